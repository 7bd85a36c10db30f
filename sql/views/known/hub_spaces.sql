-- purpose: the spaces of hubs as gauged, as known by a day
-- params: none
create or replace macro known_hub_spaces(as_of) as table
with stated as (
    select * from hub_spaces
    union all by name
    select * exclude (replaced_by)
    from history_hub_spaces
    where replaced_by not in (select intake from known_intakes(as_of))
)
select stated.*
from stated
join known_intakes(as_of) as known on known.intake = stated.intake
where stated.gauged_on <= as_of;
