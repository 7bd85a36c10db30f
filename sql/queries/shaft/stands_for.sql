-- purpose: the names that some names of shafts stood for by a day, since a merging or renaming
-- params: as_of, shafts
select name, stands_for
from aliases
where kind = 'shaft'
  and list_contains($shafts::varchar[], name)
  and intake in (select intake from known_intakes($as_of::date))
  and coalesce(ended_by not in (select intake from known_intakes($as_of::date)), true)
order by name;
