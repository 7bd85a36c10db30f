-- purpose: which inspections this intake brought readings of
-- params: intake
insert into reading_intakes (inspection, intake)
select distinct inspection, $intake::integer
from parsed_readings
where sound
  and (
      no not in (select no from slow_inspections)
      or row_id in (select row_id from reading_outcomes where outcome in ('accepted', 'corrected'))
  )
  and inspection not in (select inspection from reading_intakes where intake = $intake::integer);
