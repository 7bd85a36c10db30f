-- purpose: the last thing that was done to each of some shafts and made it another width
-- params: as_of, shafts
select shaft, what, happened_on
from known_width_changes($as_of::date)
where shaft in (select unnest($shafts::varchar[]))
qualify row_number() over (partition by shaft order by happened_on desc, what) = 1
order by shaft;
