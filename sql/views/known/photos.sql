-- purpose: the photos taken and known by a day
-- params: none
create or replace macro known_photos(as_of) as table
with stated as (
    select * from photos
    union all by name
    select * exclude (replaced_by)
    from history_photos
    where replaced_by not in (select intake from known_intakes(as_of))
)
select stated.*
from stated
join known_intakes(as_of) as known on known.intake = stated.intake
where coalesce(stated.taken_on, as_of) <= as_of;
