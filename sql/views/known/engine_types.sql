-- purpose: which engine types take which pattern, as known by a day
-- params: none
create or replace macro known_engine_types(as_of) as table
with stated as (
    select * from engine_types
    union all by name
    select * exclude (replaced_by)
    from history_engine_types
    where replaced_by not in (select intake from known_intakes(as_of))
)
select stated.*
from stated
join known_intakes(as_of) as known on known.intake = stated.intake;
