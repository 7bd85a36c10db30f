-- purpose: inspections new with this intake whose readings are, place by place, those of another of the same shaft
-- params: intake, most
with arrived as (
    select inspection, shaft
    from inspections
    where intake = $intake::integer
    qualify count(*) over () <= $most::integer
),
told as (
    select
        inspections.shaft,
        moments.inspection,
        list((moments.spline, moments.station, moments.n, moments.sum_tenth_um) order by moments.spline, moments.station)
            as places
    from inspection_moments as moments
    join inspections on inspections.inspection = moments.inspection
    where inspections.shaft in (select shaft from arrived)
    group by inspections.shaft, moments.inspection
)
select
    arrived.inspection as inspection,
    min(other.inspection) as other
from arrived
join told as mine on mine.inspection = arrived.inspection
join told as other on other.shaft = mine.shaft and other.inspection <> mine.inspection and other.places = mine.places
where len(mine.places) > 3
group by arrived.inspection
order by arrived.inspection;
