-- purpose: advice given and the hub that was sent to the shaft next, a row a piece of advice, as known by a day
-- params: as_of
select
    advice.shaft as shaft,
    advice.given_on as given_on,
    advice."do" as "do",
    advice.undersize_um as undersize_um,
    advice.method as method,
    advice.risk as risk,
    dispatch.hub as hub,
    dispatch.sent_on as sent_on,
    dispatch.sent_as as sent_as,
    hub.undersize_um as sent_undersize_um
from known_advice($as_of::date) as advice
asof left join (
    select hub, sent_on, shaft, sent_as
    from known_dispatches($as_of::date)
    where shaft is not null
) as dispatch
    on dispatch.shaft = advice.shaft and dispatch.sent_on >= advice.given_on
left join known_hubs($as_of::date) as hub on hub.hub = dispatch.hub
order by advice.shaft, advice.given_on, dispatch.hub;
