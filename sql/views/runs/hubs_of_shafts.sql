-- purpose: the hubs that went on some shafts, or were sent for them and went on none, as known by a day
-- params: none
-- The empty name stands for the hubs of which no shaft is known.
create or replace macro hubs_of_shafts(as_of, shafts) as table
select hub
from known_fittings(as_of)
where shaft in (select unnest(shafts))
union
select hub
from known_dispatches(as_of)
where coalesce(shaft, '') in (select unnest(shafts))
  and hub not in (select hub from known_fittings(as_of));
