-- purpose: the check pieces known by a day
-- params: none
create or replace macro known_check_pieces(as_of) as table
with stated as (
    select * from check_pieces
    union all by name
    select * exclude (replaced_by)
    from history_check_pieces
    where replaced_by not in (select intake from known_intakes(as_of))
)
select stated.*
from stated
join known_intakes(as_of) as known on known.intake = stated.intake;
