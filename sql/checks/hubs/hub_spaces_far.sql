-- purpose: hubs gauged far from their size, from their batch, or from the plug gauges that the batch passed
-- params: as_of
-- A hub is known by its size while sizes lie 20 to 25 um apart, so a space off by 30 um (H9 of widths of 3 to 6 mm, ISO
-- 286) is another size, or a slip. Hubs of one batch and one tool lie within a few um: 20 um from the median of three
-- others is none of them. Past a plug gauge by 10 um is more than gauging leaves open. The last two: common practice,
-- no source. What the gauging itself leaves open is allowed three times over.
with gauged as (
    select
        hubs.hub,
        hubs.batch,
        hubs.undersize_um,
        hubs.pattern,
        greatest(hubs.intake, hubs.gauging_intake) as intake,
        1000 * hubs.made_width_mm as space_um,
        3 * coalesce(hubs.made_u_um, 0) as open_um,
        round(1000 * patterns.space_width_mm - hubs.undersize_um, 3) as nominal_um,
        1000 * batches.go_mm as go_um,
        1000 * batches.no_go_mm as no_go_um,
        greatest(patterns.intake, batches.intake) as parent_intake
    from known_gauged_hubs($as_of::date) as hubs
    left join known_patterns($as_of::date) as patterns on patterns.pattern = hubs.pattern
    left join known_batches($as_of::date) as batches on batches.batch = hubs.batch
    where hubs.made_width_mm is not null
),

in_batch as (
    select batch, count(*) as hubs, median(space_um) as middle_um
    from gauged
    where batch is not null
    group by batch
),

judged as (
    select
        gauged.hub,
        greatest(gauged.intake, gauged.parent_intake) as intake,
        case
            when abs(space_um - nominal_um) > 30 + open_um
                then format(
                    'gauged {:.3f} mm, where {} less {:g} µm leaves {:.3f} mm',
                    space_um / 1000, gauged.pattern, undersize_um, nominal_um / 1000
                )
            when in_batch.hubs > 3 and abs(space_um - in_batch.middle_um) > 20 + open_um
                then format(
                    'gauged {:.3f} mm, where the {} gauged of batch {} lie about {:.3f} mm',
                    space_um / 1000, in_batch.hubs, gauged.batch, in_batch.middle_um / 1000
                )
            when space_um < go_um - 10 - open_um or space_um > no_go_um + 10 + open_um
                then format(
                    'gauged {:.3f} mm, but batch {} passed go {} and no-go {} mm',
                    space_um / 1000, gauged.batch,
                    coalesce(format('{:.3f}', go_um / 1000), '-'), coalesce(format('{:.3f}', no_go_um / 1000), '-')
                )
        end as found
    from gauged
    left join in_batch on in_batch.batch = gauged.batch
)
select
    format('hub {}', hub) as place,
    found,
    'gauge it again, or correct its space or its undersize with --correct' as next_step,
    intake
from judged
where found is not null
order by place;
