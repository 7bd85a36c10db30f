-- purpose: exact sums of readings just taken in, where no place was read twice: each reading is its own sum
-- params: none
insert into inspection_moments
select inspection, spline, station, 1, width_tenth_um, width_tenth_um::hugeint * width_tenth_um
from parsed_readings
where sound and no not in (select no from slow_inspections);
