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
    fitting.filing_min as filing_min
from known_fittings($as_of::date) as fitting
join known_hubs($as_of::date) as hub on hub.hub = fitting.hub
where fitting.filing_min > 0 and len(fitting.inspections) > 0
order by fitting.fitting;
