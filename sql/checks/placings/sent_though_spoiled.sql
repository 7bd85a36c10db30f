-- purpose: hubs sent again that came back loose, cracked or spoiled, or of a batch that was withdrawn by then
-- params: as_of
with odd as (
    select
        dispatch.hub,
        dispatch.sent_on,
        dispatch.shaft,
        format('it came back on {} as {} and may not be sent again', spoiled.returned_on, spoiled.reason) as found,
        greatest(dispatch.intake, spoiled.intake) as intake
    from known_dispatches($as_of::date) as dispatch
    join known_spoiled_returns($as_of::date) as spoiled
        on spoiled.hub = dispatch.hub and spoiled.returned_on < dispatch.sent_on
    union all
    select
        dispatch.hub,
        dispatch.sent_on,
        dispatch.shaft,
        format('its batch {} was withdrawn on {}', batch.batch, batch.withdrawn_on),
        greatest(dispatch.intake, batch.intake, hub.intake)
    from known_dispatches($as_of::date) as dispatch
    join known_hubs($as_of::date) as hub on hub.hub = dispatch.hub
    join known_batches($as_of::date) as batch on batch.batch = hub.batch and batch.withdrawn_on < dispatch.sent_on
)
select
    format('dispatch of hub {} on {}', hub, sent_on) as place,
    found,
    format(
        'tell the owner{} not to fit it and ask for it back, or correct which hub was sent',
        coalesce(' of shaft ' || shaft, '')
    ) as next_step,
    intake
from odd
order by place, found;
