-- purpose: why a hub that came back may not go on again
-- params: as_of, hub
select reason, returned_on
from known_returns($as_of::date)
where hub = $hub::varchar
  and reason in ('worked-loose', 'cracked', 'filed-too-far')
order by returned_on desc, reason
limit 1;
