-- purpose: the hubs that came back and why, a row a return, as known by a day
-- params: as_of
select
    hub,
    returned_on,
    reason,
    fitting
from known_returns($as_of::date)
order by hub, returned_on;
