-- purpose: hubs fitted on a shaft that are not known to have come off another
-- params: as_of
-- A hub has come off if it was found loose, broken or removed, came back, was sent again, or that shaft is at an end.
-- Where a day or month is not known, nothing is said.
with fittings as (
    select *
    from known_fittings($as_of::date)
    where went_on is distinct from 'would-not' and fitted_from is not null and shaft is not null
),

pairs as (
    select
        hub,
        lag(fitting) over before as earlier,
        lag(shaft) over before as earlier_shaft,
        lag(fitted_from) over before as earlier_from,
        fitting as later,
        shaft as later_shaft,
        fitted_on as later_on,
        fitted_to as later_to,
        greatest(intake, lag(intake) over before) as intake
    from fittings
    window before as (partition by hub order by fitted_from, fitting)
    qualify lag(shaft) over before <> shaft
),

ends as (
    select pairs.later
    from pairs
    join known_follow_ups($as_of::date) as follow_up on follow_up.fitting = pairs.earlier
    where follow_up.state in ('loose', 'broken', 'removed') and follow_up.seen_on <= pairs.later_to
    union all
    select pairs.later
    from pairs
    join known_returns($as_of::date) as returned on returned.hub = pairs.hub
    where returned.returned_on between pairs.earlier_from and pairs.later_to
    union all
    select pairs.later
    from pairs
    join known_dispatches($as_of::date) as dispatch on dispatch.hub = pairs.hub
    where dispatch.sent_on > pairs.earlier_from and dispatch.sent_on <= pairs.later_to
    union all
    select pairs.later
    from pairs
    join known_shaft_events($as_of::date) as event on event.shaft = pairs.earlier_shaft
    where event.what in ('replaced', 'scrapped') and event.happened_on between pairs.earlier_from and pairs.later_to
)
select
    format('hub {}, fitting {}', hub, later) as place,
    format(
        'fitted to shaft {} on {}, while on shaft {} (fitting {}), of which it is not known to have come off',
        later_shaft, later_on, earlier_shaft, earlier
    ) as found,
    'correct which hub was fitted, or add when it came off or back' as next_step,
    intake
from pairs
where later not in (select later from ends)
order by place;
