-- purpose: how often each value was read with a coarse gauge, for inspections whose counts were taken out
-- params: none
insert into reading_counts
select readings.inspection, readings.width_tenth_um, count(*)
from readings
left join inspections on inspections.inspection = readings.inspection
left join gauges on gauges.gauge = inspections.gauge
where readings.inspection in (select inspection from touched_inspections)
  and coalesce(gauges.resolution_um, 10) >= 5
group by readings.inspection, readings.width_tenth_um;
