-- purpose: how often each value was read with a coarse gauge, as known by a day
-- params: none
create or replace macro known_reading_counts(as_of) as table
select inspection, width_tenth_um, n
from reading_counts
where inspection in (select inspection from known_inspections(as_of))
  and inspection not in (select inspection from late_inspections(as_of))
union all
select inspection, width_tenth_um, count(*)::integer
from known_readings(as_of)
where inspection in (select inspection from late_inspections(as_of))
  and inspection in (select inspection from reading_counts)
group by inspection, width_tenth_um;
