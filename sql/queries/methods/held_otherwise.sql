-- purpose: fittings by method with those reported loose or broken and the months heard of, as known by a day
-- params: as_of, pattern
with heard as (
    select
        fitting,
        min(coalesce(failed_on, seen_on)) filter (where state in ('loose', 'broken')) as failed_on,
        max(seen_on) filter (where state <> 'no-answer') as heard_on
    from known_follow_ups($as_of::date)
    group by fitting
)
select
    fitting.method as method,
    count(*)::integer as fittings,
    count(heard.failed_on)::integer as failures,
    coalesce(
        sum(greatest(coalesce(heard.failed_on, heard.heard_on) - fitting.fitted_from, 0)) filter (
            where fitting.fitted_from is not null
        ),
        0
    ) / 30.4375 as hub_months
from known_fittings($as_of::date) as fitting
left join heard on heard.fitting = fitting.fitting
left join known_shafts($as_of::date) as shaft on shaft.shaft = fitting.shaft
where ($pattern::varchar is null or shaft.pattern = $pattern::varchar)
  and fitting.went_on is distinct from 'would-not'
group by fitting.method
order by fitting.method;
