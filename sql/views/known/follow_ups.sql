-- purpose: the answers had and known by a day
-- params: none
create or replace macro known_follow_ups(as_of) as table
with stated as (
    select * from follow_ups
    union all by name
    select * exclude (replaced_by)
    from history_follow_ups
    where replaced_by not in (select intake from known_intakes(as_of))
)
select stated.*
from stated
join known_intakes(as_of) as known on known.intake = stated.intake
where stated.seen_on <= as_of;
