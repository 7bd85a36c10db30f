-- purpose: the inspections made and known by a day
-- params: none
create or replace macro known_inspections(as_of) as table
with stated as (
    select * from inspections
    union all by name
    select * exclude (replaced_by)
    from history_inspections
    where replaced_by not in (select intake from known_intakes(as_of))
)
select stated.*
from stated
join known_intakes(as_of) as known on known.intake = stated.intake
where stated.measured_on <= as_of;
