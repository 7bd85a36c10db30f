-- purpose: when hubs may have, and have, run on each shaft, or things been done to it, as known by a day
-- params: none
create or replace macro known_runs(as_of) as table
select *
from runs_of_shafts(as_of, null::varchar[]);
