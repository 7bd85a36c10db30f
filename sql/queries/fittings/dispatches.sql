-- purpose: the hubs sent, for which shaft and how they were to be fitted, a row a dispatch, as known by a day
-- params: as_of, shafts
select
    dispatch.hub as hub,
    dispatch.sent_on as sent_on,
    dispatch.shaft as shaft,
    dispatch.sent_as as sent_as,
    coalesce(shaft.pattern, hub.pattern) as pattern,
    shaft.duty as duty,
    shaft.region as region,
    hub.undersize_um as undersize_um
from known_dispatches($as_of::date) as dispatch
left join known_shafts($as_of::date) as shaft on shaft.shaft = dispatch.shaft
left join known_hubs($as_of::date) as hub on hub.hub = dispatch.hub
where $shafts::varchar[] is null
   or dispatch.hub in (select hub from hubs_of_shafts($as_of::date, $shafts::varchar[]))
order by dispatch.hub, dispatch.sent_on;
