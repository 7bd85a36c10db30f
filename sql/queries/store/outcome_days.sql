-- purpose: the days on which an outcome (follow-up or return) is on record, by region, and the first fitting of all
-- params: as_of
-- outcome: false for the first fitting, from which the first pause runs
with placed as (
    select fitting.fitting, shaft.region
    from known_fittings($as_of::date) as fitting
    left join known_shafts($as_of::date) as shaft on shaft.shaft = fitting.shaft
),
hub_regions as (
    select dispatch.hub, arg_max(shaft.region, dispatch.sent_on) as region
    from known_dispatches($as_of::date) as dispatch
    left join known_shafts($as_of::date) as shaft on shaft.shaft = dispatch.shaft
    group by dispatch.hub
),
days as (
    select placed.region, follow_up.seen_on as day, true as outcome
    from known_follow_ups($as_of::date) as follow_up
    left join placed on placed.fitting = follow_up.fitting
    union
    select coalesce(placed.region, hub_regions.region), back.returned_on, true
    from known_returns($as_of::date) as back
    left join placed on placed.fitting = back.fitting
    left join hub_regions on hub_regions.hub = back.hub
    union
    select null, min(fitted_from), false
    from known_fittings($as_of::date)
)
select region, day, outcome
from days
where day is not null
order by outcome, day, region;
