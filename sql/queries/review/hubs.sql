-- purpose: hubs with batch and gauged space, whether the batch is withdrawn and the owner warned, as known by a day
-- params: as_of
select
    hub.hub as hub,
    hub.pattern as pattern,
    hub.undersize_um as undersize_um,
    hub.batch as batch,
    hub.made_width_mm as space_width_mm,
    hub.made_u_um as space_u_um,
    (pattern.space_width_mm - hub.undersize_um / 1000.0) as nominal_space_mm,
    withdrawn.batch is not null as withdrawn,
    -- who got it last: an earlier owner's warning warns nobody now, nor one of before the batch was withdrawn
    arg_max(
        coalesce(dispatch.told, false) and (withdrawn.batch is null or dispatch.intake >= withdrawn.intake),
        dispatch.sent_on
    ) as told
from known_gauged_hubs($as_of::date) as hub
left join known_patterns($as_of::date) as pattern on pattern.pattern = hub.pattern
left join known_withdrawn_batches($as_of::date) as withdrawn on withdrawn.batch = hub.batch
left join known_dispatches($as_of::date) as dispatch on dispatch.hub = hub.hub
group by all
order by hub.hub;
