-- purpose: hubs gauged at places that stand out of the others of their end, or with ends far apart
-- params: as_of
-- Spaces of one hub are cut by one tool and lie within a few um of each other at one end; 20 um from the median of three
-- others is a misreading, a burr, or a space filed alone (common practice, no source). A wear of the tool, or a taper,
-- moves an end as a whole; 40 um from one end to the other is no taper that a tool leaves (judgement).
with places as (
    select
        place.hub,
        place.gauged_on,
        place.space,
        place."end" as at_end,
        round(10000 * place.width_mm) / 10 as um,
        place.intake
    from known_hub_spaces($as_of::date) as place
),

at_ends as (
    select hub, gauged_on, at_end, count(*) as places, median(um) as middle_um, max(intake) as intake
    from places
    group by hub, gauged_on, at_end
),

judged as (
    select
        format('hub {} gauged on {}, space {}, {}', places.hub, places.gauged_on, places.space, places.at_end) as place,
        case
            when at_ends.places > 3 and abs(places.um - at_ends.middle_um) > 20
                then format(
                    '{:.3f} mm, where the {} gauged at its {} lie about {:.3f} mm',
                    places.um / 1000, at_ends.places, places.at_end, at_ends.middle_um / 1000
                )
        end as found,
        greatest(places.intake, at_ends.intake) as intake
    from places
    join at_ends
        on at_ends.hub = places.hub and at_ends.gauged_on = places.gauged_on and at_ends.at_end = places.at_end
    union all
    select
        format('hub {} gauged on {}', mouth.hub, mouth.gauged_on),
        case
            when abs(mouth.middle_um - nut_face.middle_um) > 40
                then format(
                    'about {:.3f} mm at its mouth and {:.3f} mm at its nut face',
                    mouth.middle_um / 1000, nut_face.middle_um / 1000
                )
        end,
        greatest(mouth.intake, nut_face.intake)
    from at_ends as mouth
    join at_ends as nut_face
        on nut_face.hub = mouth.hub and nut_face.gauged_on = mouth.gauged_on and nut_face.at_end = 'nut-face'
    where mouth.at_end = 'mouth'
)
select
    place,
    found,
    'gauge it again, or correct it with --correct' as next_step,
    intake
from judged
where found is not null
order by place;
