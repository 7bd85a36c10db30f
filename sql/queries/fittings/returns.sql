-- purpose: the hubs that came back and why, a row a return, as known by a day
-- params: as_of, shafts
select
    hub,
    returned_on,
    reason,
    fitting,
    failed_on
from known_returns($as_of::date)
where $shafts::varchar[] is null
   or hub in (select hub from hubs_of_shafts($as_of::date, $shafts::varchar[]))
order by hub, returned_on;
