-- purpose: the counts taken and known by a day
-- params: none
create or replace macro known_stock_counts(as_of) as table
with stated as (
    select * from stock_counts
    union all by name
    select * exclude (replaced_by)
    from history_stock_counts
    where replaced_by not in (select intake from known_intakes(as_of))
)
select stated.*
from stated
join known_intakes(as_of) as known on known.intake = stated.intake
where stated.counted_on <= as_of;
