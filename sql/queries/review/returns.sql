-- purpose: hubs that came back with what they were and where they had gone, a row a return, as known by a day
-- params: as_of
select
    returned.hub as hub,
    returned.returned_on as returned_on,
    returned.reason as reason,
    hub.pattern as pattern,
    hub.undersize_um as undersize_um,
    hub.batch as batch,
    dispatch.sent_as as method_sent,
    shaft.region as region,
    shaft.duty as duty
from known_returns($as_of::date) as returned
asof left join (
    select hub, sent_on, shaft, sent_as
    from known_dispatches($as_of::date)
) as dispatch
    on dispatch.hub = returned.hub and dispatch.sent_on <= returned.returned_on
left join known_hubs($as_of::date) as hub on hub.hub = returned.hub
left join known_shafts($as_of::date) as shaft on shaft.shaft = dispatch.shaft
order by returned.hub, returned.returned_on;
