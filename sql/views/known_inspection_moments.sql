-- purpose: exact sums of the readings by inspection, spline and station, as known by a day
-- params: none
create or replace macro known_inspection_moments(as_of) as table
select inspection, spline, station, n, sum_tenth_um, sumsq
from inspection_moments
where inspection in (select inspection from known_inspections(as_of))
  and inspection not in (select inspection from late_inspections(as_of))
union all
select
    inspection,
    spline,
    station,
    count(*)::integer,
    sum(width_tenth_um)::bigint,
    sum(width_tenth_um::hugeint * width_tenth_um)
from known_readings(as_of)
where inspection in (select inspection from late_inspections(as_of))
group by inspection, spline, station;
