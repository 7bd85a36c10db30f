-- purpose: inspections that were no occasion to send a hub: before any was, the shaft was scrapped or made another width
-- params: as_of
with ended as (
    select shaft, happened_on from known_width_changes($as_of::date)
    union
    select shaft, happened_on from known_shaft_events($as_of::date) where what = 'scrapped'
),
went as (
    select shaft, sent_on as day from known_dispatches($as_of::date) where shaft is not null
    union all
    select shaft, coalesce(fitted_from, known_from) from known_fittings($as_of::date)
),
first_ended as (
    select seen.inspection, seen.shaft, seen.measured_on, min(ended.happened_on) as happened_on
    from known_inspections($as_of::date) as seen
    join ended on ended.shaft = seen.shaft and ended.happened_on > seen.measured_on
    group by all
)
select inspection
from first_ended
where not exists (
    select 1
    from went
    where went.shaft = first_ended.shaft
      and went.day between first_ended.measured_on and first_ended.happened_on
)
order by inspection;
