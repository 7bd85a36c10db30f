-- purpose: what had been done to shafts by a day that made them another width, so that earlier readings tell nothing of it
-- params: none
create or replace macro known_width_changes(as_of) as table
select shaft, happened_on, what
from known_shaft_events(as_of)
where what in ('dressed', 'built-up', 'reground', 'replaced');
