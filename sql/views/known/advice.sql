-- purpose: the advice given by a day, under the name that its shaft then had
-- params: none
create or replace macro known_advice(as_of) as table
select advice.* replace (coalesce(renamed.stands_for, advice.shaft) as shaft)
from advice
left join (
    select name, stands_for
    from aliases
    where kind = 'shaft'
      and intake in (select intake from known_intakes(as_of))
      and coalesce(ended_by not in (select intake from known_intakes(as_of)), true)
) as renamed on renamed.name = advice.shaft
where given_on <= as_of;
