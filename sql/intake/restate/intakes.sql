-- purpose: which inspections had readings restated by this intake
-- params: intake
insert into reading_intakes (inspection, intake)
select distinct inspection, $intake::integer
from reading_outcomes
where inspection not in (select inspection from reading_intakes where intake = $intake::integer);
