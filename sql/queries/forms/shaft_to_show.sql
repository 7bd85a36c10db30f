-- purpose: the shaft measured last for which no hub has been sent or fitted since, or else the one measured last
-- params: as_of, pattern
with measured as (
    select inspection.shaft as shaft, max(inspection.measured_on) as measured_on
    from known_inspections($as_of::date) as inspection
    join known_shafts($as_of::date) as shaft on shaft.shaft = inspection.shaft
    where $pattern::varchar is null or shaft.pattern = $pattern::varchar
    group by inspection.shaft
),
served as (
    select shaft, max(served_on) as served_on
    from (
        select dispatch.shaft as shaft, dispatch.sent_on as served_on
        from known_dispatches($as_of::date) as dispatch
        union all
        select fitting.shaft as shaft, fitting.fitted_to as served_on
        from known_fittings($as_of::date) as fitting
    )
    group by shaft
)
select
    measured.shaft as shaft,
    measured.measured_on as measured_on,
    coalesce(served.served_on < measured.measured_on, true) as waiting
from measured
left join served on served.shaft = measured.shaft
order by waiting desc, measured_on desc, shaft
limit 1;
