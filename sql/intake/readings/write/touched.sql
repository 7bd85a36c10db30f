-- purpose: inspections whose kept sums must be made anew from their readings
-- params: several_trials
create or replace temp table touched_inspections as
select distinct inspection
from parsed_readings
where sound
  and (
      row_id in (select row_id from reading_outcomes where outcome in ('accepted', 'corrected'))
      or ($several_trials::boolean and no not in (select no from slow_inspections))
  );
