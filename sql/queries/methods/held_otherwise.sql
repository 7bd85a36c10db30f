-- purpose: dated fittings by method with those reported loose, broken or sent back so, and the months heard of, by a day
-- params: as_of, pattern
with heard as (
    select
        fitting,
        min(coalesce(failed_on, seen_on)) filter (where state in ('loose', 'broken')) as failed_on,
        max(seen_on) filter (where state <> 'no-answer') as heard_on
    from known_follow_ups($as_of::date)
    group by fitting
),
back as (
    select hub, min(coalesce(failed_on, returned_on)) as failed_on
    from known_returns($as_of::date)
    where reason in ('worked-loose', 'cracked')
    group by hub
),
followed as (
    select
        fitting.method as method,
        fitting.fitted_from as fitted_from,
        least(heard.failed_on, case when back.failed_on >= fitting.fitted_from then back.failed_on end) as failed_on,
        heard.heard_on as heard_on
    from known_fittings($as_of::date) as fitting
    left join heard on heard.fitting = fitting.fitting
    left join back on back.hub = fitting.hub
    left join known_shafts($as_of::date) as shaft on shaft.shaft = fitting.shaft
    where ($pattern::varchar is null or shaft.pattern = $pattern::varchar)
      and fitting.went_on is distinct from 'would-not'
      and fitting.fitted_from is not null
)
select
    method,
    count(*)::integer as fittings,
    count(failed_on)::integer as failures,
    coalesce(sum(greatest(coalesce(failed_on, heard_on) - fitted_from, 0)), 0) / 30.4375 as hub_months
from followed
group by method
order by method;
