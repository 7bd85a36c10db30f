-- purpose: each fitting with its hub as gauged, the day on which the hub was chosen, and what was noted of the fit
-- params: as_of, pattern, shafts
with sent as (
    select hub, max(sent_on) as sent_on, arg_max(sent_as, sent_on) as sent_as
    from known_dispatches($as_of::date)
    group by hub
)
select
    fitting.fitting as fitting,
    fitting.shaft as shaft,
    fitting.hub as hub,
    shaft.pattern as pattern,
    hub.undersize_um as undersize_um,
    hub.space_width_mm as space_width_mm,
    hub.space_u_um as space_u_um,
    hub.batch as batch,
    batch.go_mm as go_mm,
    batch.no_go_mm as no_go_mm,
    coalesce(sent.sent_on, fitting.fitted_to, fitting.known_from) as chosen_on,
    -- since when the shaft had the width that the hub went on
    changed.happened_on as changed_on,
    fitting.inspections as inspections,
    fitting.method as method,
    sent.sent_as as sent_as,
    fitting.went_on as went_on,
    fitting.play_um as play_um,
    fitting.filing_min as filing_min,
    fitting.drive_marked as drive_marked,
    fitting.coast_marked as coast_marked
from known_fittings($as_of::date) as fitting
join known_fitted_hubs($as_of::date) as hub on hub.fitting = fitting.fitting
join known_shafts($as_of::date) as shaft on shaft.shaft = fitting.shaft and shaft.pattern = hub.pattern
left join known_batches($as_of::date) as batch on batch.batch = hub.batch
left join sent on sent.hub = fitting.hub
asof left join known_width_changes($as_of::date) as changed
    on changed.shaft = fitting.shaft
    and changed.happened_on <= greatest(
        coalesce(sent.sent_on, fitting.fitted_to, fitting.known_from), fitting.fitted_from
    )
where ($pattern::varchar is null or shaft.pattern = $pattern::varchar)
  and ($shafts::varchar[] is null or fitting.shaft in (select unnest($shafts::varchar[])))
  -- what a bond, a shim or a sleeve holds tells nothing of a gap
  and fitting.method not in ('compound', 'repair')
order by fitting.fitting;
