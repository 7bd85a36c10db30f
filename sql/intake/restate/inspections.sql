-- purpose: inspections that had readings before their own row, or their gauge's, came or was corrected
-- params: intake
create or replace temp table touched_inspections as
select inspections.inspection
from inspections
left join gauges on gauges.gauge = inspections.gauge
where (inspections.intake = $intake::integer or gauges.intake = $intake::integer)
  and inspections.inspection in (select inspection from reading_intakes);
