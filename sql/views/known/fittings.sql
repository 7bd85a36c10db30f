-- purpose: the fittings made and known by a day; of a first bulk load, those that had surely happened
-- params: none
create or replace macro known_fittings(as_of) as table
with stated as (
    select * from fittings
    union all by name
    select * exclude (replaced_by)
    from history_fittings
    where replaced_by not in (select intake from known_intakes(as_of))
)
select stated.*
from stated
join known_intakes(as_of) as known on known.intake = stated.intake
where coalesce(greatest(case when known.bulk then stated.fitted_to else stated.fitted_from end, stated.known_from), as_of) <= as_of;
