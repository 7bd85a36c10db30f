-- purpose: exact sums of the readings by inspection, spline and station, as stated on a day, of any day's inspections
-- params: none
-- Whoever joins them with the inspections known by the day has those known by it.
create or replace macro stated_moments(as_of) as table
select inspection, spline, station, n, sum_tenth_um, sumsq
from inspection_moments
where inspection not in (select inspection from late_inspections(as_of))
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
