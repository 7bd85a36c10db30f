-- purpose: the shaft that each hub went on, or else was sent for, as known by a day; empty where neither is known
-- params: none
create or replace macro known_hub_shafts(as_of) as table
select
    hub,
    coalesce(min(fitted), min(meant), '') as shaft
from (
    select hub, shaft as fitted, null as meant from known_fittings(as_of)
    union all
    select hub, null as fitted, shaft as meant from known_dispatches(as_of)
)
group by hub;
