-- purpose: the shafts known by a day
-- params: none
create or replace macro known_shafts(as_of) as table
with stated as (
    select * from shafts
    union all by name
    select * exclude (replaced_by)
    from history_shafts
    where replaced_by not in (select intake from known_intakes(as_of))
)
select stated.*
from stated
join known_intakes(as_of) as known on known.intake = stated.intake
where coalesce(stated.first_seen_on <= as_of, true);
