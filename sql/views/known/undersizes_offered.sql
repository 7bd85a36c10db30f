-- purpose: the undersizes offered, as known by a day; an end that lay ahead is not shown
-- params: none
create or replace macro known_undersizes_offered(as_of) as table
with stated as (
    select * from undersizes_offered
    union all by name
    select * exclude (replaced_by)
    from history_undersizes_offered
    where replaced_by not in (select intake from known_intakes(as_of))
)
select stated.* replace (case when stated.to_on <= as_of then stated.to_on end as to_on)
from stated
join known_intakes(as_of) as known on known.intake = stated.intake
where stated.from_on <= as_of;
