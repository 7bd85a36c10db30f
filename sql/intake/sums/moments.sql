-- purpose: exact sums of the readings by inspection, spline and station, for inspections whose sums were taken out
-- params: none
insert into inspection_moments
select
    inspection,
    spline,
    station,
    count(*),
    sum(width_tenth_um),
    sum(width_tenth_um::bigint * width_tenth_um)
from readings
where inspection in (select inspection from touched_inspections)
group by inspection, spline, station;
