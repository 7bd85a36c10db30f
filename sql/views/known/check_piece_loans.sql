-- purpose: the check pieces lent, as known by a day; one that came back later is still out
-- params: none
create or replace macro known_check_piece_loans(as_of) as table
with stated as (
    select * from check_piece_loans
    union all by name
    select * exclude (replaced_by)
    from history_check_piece_loans
    where replaced_by not in (select intake from known_intakes(as_of))
)
select stated.* replace (case when stated.back_on <= as_of then stated.back_on end as back_on)
from stated
join known_intakes(as_of) as known on known.intake = stated.intake
where stated.sent_on <= as_of;
