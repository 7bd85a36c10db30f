-- purpose: batches of a pattern as they came out: plug gauges, and gauged hubs less what was meant, as known by a day
-- params: as_of, pattern, space_width_mm
with gauged as (
    select
        batch,
        count(*) as hubs,
        avg((space_width_mm - $space_width_mm::double) * 1000 + undersize_um) as off_um,
        coalesce(var_samp(space_width_mm * 1000), 0) as within_um2
    from known_hubs($as_of::date)
    where pattern = $pattern::varchar and space_width_mm is not null and batch is not null
    group by batch
)
select
    batch.batch as batch,
    batch.made_on as made_on,
    batch.material as material,
    case when batch.hardened then 'yes' when not batch.hardened then 'no' end as hardened,
    (batch.go_mm - $space_width_mm::double) * 1000 + batch.undersize_um as go_off_um,
    (batch.no_go_mm - $space_width_mm::double) * 1000 + batch.undersize_um as no_go_off_um,
    coalesce(gauged.hubs, 0) as hubs,
    gauged.off_um as off_um,
    gauged.within_um2 as within_um2
from known_batches($as_of::date) as batch
left join gauged on gauged.batch = batch.batch
where batch.pattern = $pattern::varchar
order by batch.made_on, batch.batch;
