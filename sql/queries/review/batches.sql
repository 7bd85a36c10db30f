-- purpose: batches as stated, the space by their plug gauges, whether withdrawn, hubs sent without word, known by a day
-- params: as_of
with unheard as (
    select hub.batch, count(*) as hubs
    from known_hubs($as_of::date) as hub
    join (
        select hub, max(sent_on) as sent_on from known_dispatches($as_of::date) group by hub
    ) as sent on sent.hub = hub.hub
    left join (
        select hub, max(returned_on) as returned_on from known_returns($as_of::date) group by hub
    ) as back on back.hub = hub.hub and back.returned_on >= sent.sent_on
    where back.hub is null
      and hub.hub not in (select hub from known_fittings($as_of::date))
    group by hub.batch
)
select
    batch.batch as batch,
    batch.pattern as pattern,
    batch.undersize_um as undersize_um,
    batch.made_on as made_on,
    batch.quantity as quantity,
    1000.0 * (batch.go_mm - pattern.space_width_mm) + batch.undersize_um as plug_low_um,
    1000.0 * (batch.no_go_mm - pattern.space_width_mm) + batch.undersize_um as plug_high_um,
    withdrawn.batch is not null as withdrawn,
    withdrawn.withdrawn_on as withdrawn_on,
    withdrawn.withdrawn_because as withdrawn_because,
    coalesce(unheard.hubs, 0)::integer as unheard
from known_batches($as_of::date) as batch
left join known_withdrawn_batches($as_of::date) as withdrawn on withdrawn.batch = batch.batch
left join known_patterns($as_of::date) as pattern on pattern.pattern = batch.pattern
left join unheard on unheard.batch = batch.batch
order by batch.batch;
