-- purpose: hubs said to be of another pattern or undersize than their batch
-- params: as_of
select
    format('hub {}, batch {}', hubs.hub, hubs.batch) as place,
    format(
        '{} undersize {:g}, where the batch is {} undersize {:g}',
        hubs.pattern, hubs.undersize_um, batches.pattern, batches.undersize_um
    ) as found,
    'correct the hub, or which batch it is of, with --correct' as next_step,
    greatest(hubs.intake, batches.intake) as intake
from known_hubs($as_of::date) as hubs
join known_batches($as_of::date) as batches on batches.batch = hubs.batch
where hubs.pattern <> batches.pattern or abs(hubs.undersize_um - batches.undersize_um) > 0.05
order by place;
