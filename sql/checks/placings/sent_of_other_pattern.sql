-- purpose: hubs sent for a shaft of another pattern
-- params: as_of
select
    format('dispatch of hub {} on {}', dispatches.hub, dispatches.sent_on) as place,
    format('{} is {}, but shaft {} is {}', dispatches.hub, hubs.pattern, dispatches.shaft, shafts.pattern) as found,
    'correct which hub was sent, for which shaft, or their patterns, with --correct' as next_step,
    greatest(dispatches.intake, hubs.intake, shafts.intake) as intake
from known_dispatches($as_of::date) as dispatches
join known_hubs($as_of::date) as hubs on hubs.hub = dispatches.hub
join known_shafts($as_of::date) as shafts on shafts.shaft = dispatches.shaft
where hubs.pattern <> shafts.pattern
order by place;
