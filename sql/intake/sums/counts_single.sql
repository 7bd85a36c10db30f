-- purpose: how often each value was read with a coarse gauge, of readings just taken in
-- params: none
insert into reading_counts
select inspection, width_tenth_um, count(*)
from parsed_readings
where sound and coarse and no not in (select no from slow_inspections)
group by inspection, width_tenth_um;
