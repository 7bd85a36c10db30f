-- purpose: fittings on a shaft whose earlier hub is not known to have come off by then
-- params: as_of
-- A hub has come off if it was found loose, broken or removed, came back, never went on, was fitted anew (refit_of or
-- the same hub again), or if the shaft was replaced or scrapped. Where a day or month is not known, nothing is said.
with fittings as (
    select *
    from known_fittings($as_of::date)
    where went_on is distinct from 'would-not' and fitted_from is not null
),

-- each fitting is held against the one just before it
pairs as (
    select
        lag(fitting) over before as earlier,
        lag(hub) over before as earlier_hub,
        shaft,
        fitting as later,
        hub as later_hub,
        fitted_on as later_on,
        fitted_to as later_to,
        greatest(intake, lag(intake) over before) as intake
    from fittings
    where shaft is not null
    window before as (partition by shaft order by fitted_from, fitting)
    qualify lag(fitting) over before is not null
),

ends as (
    select fitting, seen_on as ended_on
    from known_follow_ups($as_of::date)
    where state in ('loose', 'broken', 'removed')
    union all
    select fittings.fitting, returns.returned_on
    from known_returns($as_of::date) as returns
    join fittings on fittings.fitting = returns.fitting
    where returns.returned_on >= fittings.fitted_from
    union all
    select fittings.fitting, returns.returned_on
    from known_returns($as_of::date) as returns
    join fittings on fittings.hub = returns.hub
    where returns.returned_on >= fittings.fitted_from
    union all
    select fittings.fitting, events.happened_on
    from known_shaft_events($as_of::date) as events
    join fittings on fittings.shaft = events.shaft
    where events.what in ('replaced', 'scrapped') and events.happened_on >= fittings.fitted_from
    union all
    select refit_of, fitted_from
    from fittings
    where refit_of is not null
),

first_ends as (
    select fitting, min(ended_on) as ended_on
    from ends
    group by fitting
),

last_tight as (
    select fitting, max(seen_on) as seen_on
    from known_follow_ups($as_of::date)
    where state = 'tight'
    group by fitting
)
select
    format('shaft {}, fitting {}', pairs.shaft, pairs.later) as place,
    case
        when first_ends.ended_on is null then format(
            'hub {} fitted on {}, while hub {} (fitting {}) is not known to have come off',
            pairs.later_hub, pairs.later_on, pairs.earlier_hub, pairs.earlier
        )
        else format(
            'hub {} fitted on {}, while hub {} (fitting {}) came off only on {}',
            pairs.later_hub, pairs.later_on, pairs.earlier_hub, pairs.earlier, first_ends.ended_on
        )
    end as found,
    'add a follow-up that says when and why the earlier hub came off, or correct the dates' as next_step,
    pairs.intake
from pairs
left join first_ends on first_ends.fitting = pairs.earlier
left join last_tight on last_tight.fitting = pairs.earlier
where pairs.later_hub <> pairs.earlier_hub
    and (first_ends.ended_on is null or first_ends.ended_on > pairs.later_to)
    -- where it was seen tight after that day, tight_after_next says so
    and coalesce(last_tight.seen_on <= pairs.later_to, true)
order by pairs.shaft, pairs.later;
