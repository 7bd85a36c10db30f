-- purpose: each gauging of a hub's spaces, as known by a day: mean of its places, taper, spread, doubt of the mean
-- params: none
-- The doubt is that of JCGM 100:2008 (GUM): s²/n of the places about the mean of their end (4.2.3), and a step of the gauge
-- spread evenly, step²/12 (F.2.2.1), which all places share; and 1 µm for the gauge's own error, which no repeat shows and
-- all places share (judgement: a workshop's gauges are hardly set truer). Spaces and ends that were not gauged add what they
-- may differ by: 5 µm from space to space, of a finite number (Cochran, Sampling Techniques, 2.6), and half of 10 µm from
-- end to end (judgement). Where the gauge is not named, its step is the coarsest of 0.01, 0.001 and 0.0001 mm on which all
-- its widths lie. Widths are summed as whole tenths of a micrometre.
create or replace macro known_hub_gaugings(as_of) as table
with places as (
    select
        place.hub,
        place.gauged_on,
        place.space,
        place."end",
        round(10000 * place.width_mm)::bigint as tenth_um,
        gauge.resolution_um as step_um,
        greatest(place.intake, gauge.intake) as intake
    from known_hub_spaces(as_of) as place
    left join known_gauges(as_of) as gauge on gauge.gauge = place.gauge
),
ends as (
    select
        hub,
        gauged_on,
        sum(tenth_um) filter ("end" = 'mouth') / count(*) filter ("end" = 'mouth') / 10.0 as mouth_um,
        sum(tenth_um) filter ("end" = 'nut-face') / count(*) filter ("end" = 'nut-face') / 10.0 as nut_face_um,
        count(distinct "end") as ends,
        count(*) as places,
        sum(tenth_um) / count(*) / 10.0 as mean_um,
        -- squares about the end's own mean, in whole numbers but for the last division
        (
            sum(tenth_um * tenth_um)
            - coalesce(sum(tenth_um) filter ("end" = 'mouth') ** 2 / count(*) filter ("end" = 'mouth'), 0)
            - coalesce(sum(tenth_um) filter ("end" = 'nut-face') ** 2 / count(*) filter ("end" = 'nut-face'), 0)
        ) / 100.0 as squares_um2,
        max(
            coalesce(
                step_um,
                case when tenth_um % 100 = 0 then 10 when tenth_um % 10 = 0 then 1 else 0.1 end
            )
        ) as coarsest_um,
        min(
            coalesce(
                step_um,
                case when tenth_um % 100 = 0 then 10 when tenth_um % 10 = 0 then 1 else 0.1 end
            )
        ) as finest_um,
        bool_and(step_um is not null) as gauge_known,
        max(intake) as intake
    from places
    group by hub, gauged_on
),
spread as (
    select hub, gauged_on, count(*) as spaces, stddev_samp(um) as spread_um
    from (
        select hub, gauged_on, space, sum(tenth_um) / count(*) / 10.0 as um
        from places
        group by hub, gauged_on, space
    )
    group by hub, gauged_on
)
select
    ends.hub,
    ends.gauged_on,
    ends.places::integer as places,
    spread.spaces::integer as spaces,
    ends.mean_um / 1000 as space_width_mm,
    sqrt(
        1.0
        + case when gauge_known then coarsest_um else finest_um end ** 2 / 12
        + case when ends.places > ends.ends then greatest(squares_um2, 0) / (ends.places - ends.ends) / ends.places else 0 end
        + greatest(1 - spread.spaces / coalesce(pattern.splines, spread.spaces), 0) * 25.0 / spread.spaces
        + case when ends.ends = 1 then 25.0 else 0 end
    ) as space_u_um,
    ends.mouth_um - ends.nut_face_um as taper_um, -- mouth less nut face
    spread.spread_um as spread_um,
    ends.intake
from ends
join spread on spread.hub = ends.hub and spread.gauged_on = ends.gauged_on
left join known_hubs(as_of) as hub on hub.hub = ends.hub
left join known_patterns(as_of) as pattern on pattern.pattern = hub.pattern;
