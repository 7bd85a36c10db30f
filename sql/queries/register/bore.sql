-- purpose: the bore over the register of a hub, null where not on record, as known by a day
-- params: as_of, hub
select register_mm from known_hubs($as_of::date) where hub = $hub::varchar order by hub;
