-- purpose: how far outcomes are complete, as intakes known by a day say that were not taken back by then
-- params: none
create or replace macro known_complete_to(as_of) as table
select intake, complete_to
from intakes
where complete_to is not null
  and intake in (select intake from known_intakes(as_of))
  and intake not in (
      select undoes
      from intakes
      where undoes is not null and intake in (select intake from known_intakes(as_of))
  );
