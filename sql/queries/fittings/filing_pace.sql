-- purpose: minutes of filing on record beside the hub and the inspections it was chosen on
-- params: as_of
select
    fitting.fitting as fitting,
    fitting.shaft as shaft,
    fitting.hub as hub,
    hub.pattern as pattern,
    fitting.fitted_to as chosen_on,
    hub.undersize_um as undersize_um,
    hub.space_width_mm as space_width_mm,
    fitting.inspections as inspections,
    fitting.filing_min as filing_min,
    -- since when the shaft had the width that the hub went on
    changed.happened_on as changed_on
from known_fittings($as_of::date) as fitting
join known_fitted_hubs($as_of::date) as hub on hub.fitting = fitting.fitting
asof left join known_width_changes($as_of::date) as changed
    on changed.shaft = fitting.shaft and changed.happened_on <= fitting.fitted_to
where fitting.filing_min > 0 and len(fitting.inspections) > 0
order by fitting.fitting;
