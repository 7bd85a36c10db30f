-- purpose: the hubs known by a day, and not of a batch made later
-- params: none
create or replace macro known_hubs(as_of) as table
with stated as (
    select * from hubs
    union all by name
    select * exclude (replaced_by)
    from history_hubs
    where replaced_by not in (select intake from known_intakes(as_of))
)
select stated.*
from stated
join known_intakes(as_of) as known on known.intake = stated.intake
left join batches on batches.batch = stated.batch
where coalesce(batches.made_on <= as_of, true);
