-- purpose: names of all batches in the order in which they were made, those last that only hubs name, as known by a day
-- params: as_of
with named as (
    select batch, min(made_on) as made_on
    from (
        select batch, made_on from known_batches($as_of::date)
        union all
        select batch, null from known_hubs($as_of::date) where batch is not null
    )
    group by batch
)
select batch from named order by made_on nulls first, batch;
