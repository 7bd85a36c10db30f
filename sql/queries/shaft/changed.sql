-- purpose: the last thing that was done to a shaft after its last reading and made it another width
-- params: as_of, shaft, measured_on
select what, happened_on
from known_shaft_events($as_of::date)
where shaft = $shaft::varchar
  and happened_on > $measured_on::date
  and what in ('dressed', 'built-up', 'reground', 'replaced')
order by happened_on desc, what
limit 1;
