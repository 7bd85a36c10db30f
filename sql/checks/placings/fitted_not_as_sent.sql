-- purpose: hubs fitted on another shaft than they were sent for, or never sent while one sent for the shaft is nowhere
-- params: as_of
-- Nowhere: neither fitted nor back, and sent within half a year before the fitting. A hub that was fitted elsewhere
-- before, and came off there, may go on any shaft.
with days as (
    select *
    from checked_days
),

last_sent as (
    select days.fitting, dispatches.shaft, dispatches.sent_on, dispatches.intake
    from days
    asof join known_dispatches($as_of::date) as dispatches
        on dispatches.hub = days.hub and dispatches.sent_on <= days.latest
),

loose_ends as (
    select *
    from known_dispatches($as_of::date)
    where shaft is not null
        and hub not in (select hub from days)
        and hub not in (select hub from known_returns($as_of::date))
),

odd as (
    select
        days.fitting,
        format(
            'hub {} on shaft {}, but it was sent for shaft {} on {}',
            days.hub, days.shaft, last_sent.shaft, last_sent.sent_on
        ) as found,
        greatest(days.intake, last_sent.intake) as intake
    from days
    join last_sent on last_sent.fitting = days.fitting
    where last_sent.shaft <> days.shaft
    union all
    select
        days.fitting,
        format(
            'hub {} on shaft {}, but it was never sent; hub {}, sent for this shaft on {}, is nowhere',
            days.hub, days.shaft, loose_ends.hub, loose_ends.sent_on
        ),
        greatest(days.intake, loose_ends.intake)
    from days
    join loose_ends on loose_ends.shaft = days.shaft
    where days.hub not in (select hub from known_dispatches($as_of::date))
        and loose_ends.sent_on between days.latest - 183 and days.latest
)
select
    format('fitting {}', fitting) as place,
    found,
    'correct which hub was sent or fitted, or on which shaft, with --correct' as next_step,
    intake
from odd
order by place, found;
