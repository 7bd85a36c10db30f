-- purpose: gauged hubs of a pattern on the shelf: never sent, or back unchanged or gauged anew; none withdrawn
-- params: as_of, pattern
with sent as (
    select hub, max(sent_on) as sent_on from known_dispatches($as_of::date) group by hub
),
back as (
    select
        hub,
        max(returned_on) as returned_on,
        arg_max(back_on_shelf, returned_on) as back_on_shelf,
        bool_or(hub in (select hub from known_spoiled_returns($as_of::date))) as spoiled
    from known_returns($as_of::date)
    group by hub
),
tried as (
    select hub from known_fittings($as_of::date) where went_on is distinct from 'would-not'
)
select
    hub.hub as hub,
    hub.undersize_um as undersize_um,
    hub.space_width_mm as space_width_mm,
    hub.space_u_um as space_u_um,
    hub.register_mm as register_mm
from known_gauged_hubs($as_of::date) as hub
left join sent on sent.hub = hub.hub
left join back on back.hub = hub.hub
where hub.pattern = $pattern::varchar
  and hub.space_width_mm is not null
  -- what went on a shaft is there again only where it was gauged since it came back; so is what was filed in vain
  and (
      (hub.hub not in (select hub from tried) and (hub.gauged_on is null or hub.gauged_as_is))
      or (hub.gauged_as_is and back.back_on_shelf and hub.gauged_on >= back.returned_on)
  )
  and (hub.batch is null or hub.batch not in (select batch from known_withdrawn_batches($as_of::date)))
  and not coalesce(back.spoiled, false)
  and (back.hub is null or coalesce(back.back_on_shelf, false))
  and (sent.hub is null or (coalesce(back.back_on_shelf, false) and back.returned_on >= sent.sent_on))
order by hub.undersize_um, hub.hub;
