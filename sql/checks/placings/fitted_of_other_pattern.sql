-- purpose: hubs fitted on a shaft of another pattern
-- params: as_of
select
    format('fitting {}', fittings.fitting) as place,
    format('hub {} is {}, but shaft {} is {}', fittings.hub, hubs.pattern, fittings.shaft, shafts.pattern) as found,
    'correct which hub, which shaft, or their patterns, with --correct' as next_step,
    greatest(fittings.intake, hubs.intake, shafts.intake) as intake
from known_fittings($as_of::date) as fittings
join known_hubs($as_of::date) as hubs on hubs.hub = fittings.hub
join known_shafts($as_of::date) as shafts on shafts.shaft = fittings.shaft
where hubs.pattern <> shafts.pattern
order by place;
