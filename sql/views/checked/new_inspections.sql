-- purpose: the inspections that are new, or have new readings, with an intake; all of them where it is null
-- params: none
create or replace macro checked_new_inspections(as_of, newest) as table
select *
from known_inspections(as_of)
where newest is null
    or intake = newest
    or inspection in (select inspection from reading_intakes where intake = newest);
