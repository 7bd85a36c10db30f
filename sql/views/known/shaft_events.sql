-- purpose: what had been done to shafts by a day and was known
-- params: none
create or replace macro known_shaft_events(as_of) as table
with stated as (
    select * from shaft_events
    union all by name
    select * exclude (replaced_by)
    from history_shaft_events
    where replaced_by not in (select intake from known_intakes(as_of))
)
select stated.*
from stated
join known_intakes(as_of) as known on known.intake = stated.intake
where stated.happened_on <= as_of;
