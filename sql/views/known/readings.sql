-- purpose: the readings of inspections made and known by a day
-- params: none
create or replace macro known_readings(as_of) as table
with stated as (
    select * from readings
    union all by name
    select * exclude (replaced_by)
    from history_readings
    where replaced_by not in (select intake from known_intakes(as_of))
)
select stated.*
from stated
join known_intakes(as_of) as known on known.intake = stated.intake
where stated.inspection in (select inspection from known_inspections(as_of));
