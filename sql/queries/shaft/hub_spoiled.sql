-- purpose: why a hub that came back may not go on again
-- params: as_of, hub
select reason, returned_on
from known_spoiled_returns($as_of::date)
where hub = $hub::varchar
order by returned_on desc, reason
limit 1;
