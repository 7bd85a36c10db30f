-- purpose: the costs in force and known by a day
-- params: none
create or replace macro known_costs(as_of) as table
with stated as (
    select * from costs
    union all by name
    select * exclude (replaced_by)
    from history_costs
    where replaced_by not in (select intake from known_intakes(as_of))
)
select stated.*
from stated
join known_intakes(as_of) as known on known.intake = stated.intake
where stated.from_on <= as_of;
