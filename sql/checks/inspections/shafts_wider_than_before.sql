-- purpose: inspections that read a shaft far wider than the one before it did, without anything done to it
-- params: as_of
-- A mean of two hands with calipers differs by some 20 um (from memory), with micrometers by less than 10: by 80 um no
-- two readings of one shaft differ, and no shaft grows.
with wanted as (
    select shaft, inspection, measured_on, intake
    from known_inspections($as_of::date)
    where shaft in (select shaft from checked_inspections)
    qualify count(*) over (partition by shaft) > 1
),

means as (
    select
        wanted.shaft,
        wanted.inspection,
        wanted.measured_on,
        any_value(wanted.intake) as intake,
        sum(moments.sum_tenth_um)::double / sum(moments.n) / 10 as mean_um
    from inspection_moments as moments
    join wanted on wanted.inspection = moments.inspection
    group by wanted.shaft, wanted.inspection, wanted.measured_on
),

stepped as (
    select
        *,
        lag(inspection) over steps as before,
        lag(measured_on) over steps as before_on,
        lag(mean_um) over steps as before_um,
        greatest(intake, lag(intake) over steps) as newest
    from means
    window steps as (partition by shaft order by measured_on, inspection)
)
select
    format('inspection {}, shaft {}', stepped.inspection, stepped.shaft) as place,
    format(
        'on average {:.3f} mm on {}, where inspection {} read {:.3f} mm on {}',
        mean_um / 1000, measured_on, before, before_um / 1000, before_on
    ) as found,
    'ask for the one that is off again; a shaft that was built up or replaced needs a shaft event' as next_step,
    newest as intake
from stepped
anti join known_shaft_events($as_of::date) as events
    on events.shaft = stepped.shaft
    and events.what in ('built-up', 'replaced')
    and events.happened_on between stepped.before_on and stepped.measured_on
where mean_um - before_um > 80
order by place;
