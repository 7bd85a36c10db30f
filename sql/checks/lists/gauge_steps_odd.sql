-- purpose: gauges whose step is not one that gauges of their kind have
-- params: as_of
-- Micrometers read in 0.01 mm or 0.001 in at the coarsest, calipers in 1/128 in (common practice, no source), a plain
-- caliper no finer than 0.01 mm or 0.0005 in; the store keeps widths to 0.1 um.
with bounds as (
    select *
    from (
        values
            ('micrometer-flat', 0.1, 25.4),
            ('micrometer-blade', 0.1, 25.4),
            ('micrometer-ball', 0.1, 25.4),
            ('caliper', 5, 200),
            ('plug', 0.1, 200)
    ) as bounds(kind, finest_um, coarsest_um)
)
select
    format('gauge {}', gauges.gauge) as place,
    format(
        'a {} that reads in steps of {:g} {}, {:g} µm, where {:g} to {:g} µm are usual',
        gauges.kind, gauges.resolution, gauges.unit, gauges.resolution_um, bounds.finest_um, bounds.coarsest_um
    ) as found,
    'if it is a slip, correct the step, the unit or the kind with --correct' as next_step,
    gauges.intake
from known_gauges($as_of::date) as gauges
join bounds on bounds.kind = gauges.kind
where round(gauges.resolution_um, 6) not between bounds.finest_um and bounds.coarsest_um
order by gauges.gauge;
