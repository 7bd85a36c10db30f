-- purpose: the new readings into their table
-- params: intake
insert into readings (inspection, spline, station, trial, width_tenth_um, typed, intake)
select inspection, spline, station, trial, width_tenth_um, typed, $intake::integer
from parsed_readings
where sound
  and (
      no not in (select no from slow_inspections)
      or row_id in (select row_id from reading_outcomes where outcome = 'accepted')
  );
