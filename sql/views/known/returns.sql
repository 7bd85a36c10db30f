-- purpose: the hubs come back, as known by a day
-- params: none
create or replace macro known_returns(as_of) as table
with stated as (
    select * from returns
    union all by name
    select * exclude (replaced_by)
    from history_returns
    where replaced_by not in (select intake from known_intakes(as_of))
)
select stated.*
from stated
join known_intakes(as_of) as known on known.intake = stated.intake
where stated.returned_on <= as_of;
