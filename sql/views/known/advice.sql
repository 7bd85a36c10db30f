-- purpose: the advice given by a day
-- params: none
create or replace macro known_advice(as_of) as table
select *
from advice
where given_on <= as_of;
