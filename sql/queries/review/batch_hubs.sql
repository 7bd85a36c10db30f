-- purpose: the hubs of a batch, to whom each went last and whether it came back, a row a hub, as known by a day
-- params: as_of, batch
with sent as (
    select
        hub,
        max(sent_on) as sent_on,
        arg_max(shaft, sent_on) as shaft,
        arg_max("order", sent_on) as "order",
        arg_max(coalesce(told, false), sent_on) as told,
        arg_max(intake, sent_on) as intake
    from known_dispatches($as_of::date)
    group by hub
),
back as (
    select hub, max(returned_on) as returned_on, arg_max(coalesce(back_on_shelf, false), returned_on) as back_on_shelf
    from known_returns($as_of::date)
    group by hub
)
select
    hub.hub as hub,
    sent.shaft as shaft,
    sent."order" as "order",
    sent.sent_on as sent_on,
    -- a warning of before the batch was withdrawn warned of something else
    coalesce(sent.told and (withdrawn.batch is null or sent.intake >= withdrawn.intake), false) as told,
    back.returned_on as returned_on,
    coalesce(back.back_on_shelf, false) as back_on_shelf
from known_hubs($as_of::date) as hub
left join known_withdrawn_batches($as_of::date) as withdrawn on withdrawn.batch = hub.batch
left join sent on sent.hub = hub.hub
left join back on back.hub = hub.hub and (sent.sent_on is null or back.returned_on >= sent.sent_on)
where hub.batch = $batch::varchar
order by hub.hub;
