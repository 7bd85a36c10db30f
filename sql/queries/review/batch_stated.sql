-- purpose: every batch as stated, and whether it is withdrawn, a row a batch, as known by a day
-- params: as_of
select
    batch.batch as batch,
    batch.pattern as pattern,
    batch.undersize_um as undersize_um,
    batch.made_on as made_on,
    batch.quantity as quantity,
    withdrawn.batch is not null as withdrawn,
    withdrawn.withdrawn_on as withdrawn_on,
    withdrawn.withdrawn_because as withdrawn_because
from known_batches($as_of::date) as batch
left join known_withdrawn_batches($as_of::date) as withdrawn on withdrawn.batch = batch.batch
order by batch.batch;
