-- purpose: batches, their plug gauges, the space their hubs should have, whether withdrawn, a row a batch, known by a day
-- params: as_of
select
    batch.batch as batch,
    batch.pattern as pattern,
    batch.undersize_um as undersize_um,
    1000.0 * (batch.go_mm - pattern.space_width_mm) + batch.undersize_um as plug_low_um,
    1000.0 * (batch.no_go_mm - pattern.space_width_mm) + batch.undersize_um as plug_high_um,
    withdrawn.batch is not null as withdrawn,
    withdrawn.withdrawn_on as withdrawn_on,
    withdrawn.withdrawn_because as withdrawn_because
from known_batches($as_of::date) as batch
left join known_withdrawn_batches($as_of::date) as withdrawn on withdrawn.batch = batch.batch
left join known_patterns($as_of::date) as pattern on pattern.pattern = batch.pattern
order by batch.batch;
