-- purpose: fittings seen tight after another hub had been fitted on their shaft, or their hub on another shaft
-- params: none
-- Where days are not known only what is certain counts: the next one was surely fitted later, and the latest day on
-- which that can have been lies before the day on which the first was tight.
with heard as (
    select
        fitting,
        max(day) filter (where kind = 'tight') as last_tight,
        max(intake) filter (where kind = 'tight') as tight_intake,
        bool_or(kind in ('tight', 'failed')) as ran,
        bool_or(kind = 'never-ran') as never_ran
    from checked_news
    group by fitting
),

-- one that would not go on, or came back without ever having run, was on no shaft
fittings as (
    select days.* exclude (intake), heard.last_tight, greatest(days.intake, heard.tight_intake) as intake
    from checked_days as days
    left join heard on heard.fitting = days.fitting
    where days.went_on is distinct from 'would-not' and days.earliest is not null
        and (coalesce(heard.ran, false) or not coalesce(heard.never_ran, false))
),

placings as (
    select fitting, hub, shaft, last_tight, earliest, latest, intake, 'shaft' as kind, shaft as name
    from fittings
    union all
    select fitting, hub, shaft, last_tight, earliest, latest, intake, 'hub', hub
    from fittings
),

-- the first that was surely made later, or one made on the same day that was seen tight as well
pairs as (
    select
        earlier.kind,
        earlier.fitting,
        earlier.hub,
        earlier.shaft,
        earlier.last_tight,
        later.fitting as next_fitting,
        later.hub as next_hub,
        later.shaft as next_shaft,
        later.latest as next_latest,
        greatest(earlier.intake, later.intake) as intake
    from placings as earlier
    join placings as later
        on later.kind = earlier.kind
        and later.name = earlier.name
        and (
            later.earliest > earlier.latest
            or (
                later.fitting > earlier.fitting
                and later.earliest = earlier.earliest
                and later.latest = earlier.latest
                and later.latest = later.earliest
                and later.last_tight > later.latest
            )
        )
    qualify row_number() over (
        partition by earlier.kind, earlier.fitting, later.earliest > earlier.latest
        order by later.earliest, later.latest, later.fitting
    ) = 1
)
select
    format('fitting {} and fitting {}', fitting, next_fitting) as place,
    case kind
        when 'shaft' then format(
            'hub {} was tight on {}, after hub {} had been fitted on the same shaft {} by {}',
            hub, last_tight, next_hub, shaft, next_latest
        )
        else format(
            'hub {} was tight on shaft {} on {}, after it had been fitted on shaft {} by {}',
            hub, shaft, last_tight, next_shaft, next_latest
        )
    end as found,
    'correct the dates, or which shaft and hub each fitting names' as next_step,
    intake
from pairs
where last_tight > next_latest
order by place, found;
