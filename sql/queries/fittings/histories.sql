-- purpose: the fittings with their shaft and hub, a row a fitting, as known by a day
-- params: as_of, shafts
select
    fitting.fitting as fitting,
    fitting.shaft as shaft,
    fitting.hub as hub,
    shaft.pattern as pattern,
    shaft.duty as duty,
    shaft.region as region,
    hub.undersize_um as undersize_um,
    fitting.method as method,
    fitting.fitted_from as fitted_from,
    fitting.fitted_to as fitted_to,
    fitting.known_from as known_from,
    fitting.went_on as went_on,
    fitting.refit_of as refit_of,
    fitting.play_um as play_um
from known_fittings($as_of::date) as fitting
left join known_shafts($as_of::date) as shaft on shaft.shaft = fitting.shaft
left join known_hubs($as_of::date) as hub on hub.hub = fitting.hub
where $shafts::varchar[] is null
   or fitting.hub in (select hub from hubs_of_shafts($as_of::date, $shafts::varchar[]))
order by fitting.fitting;
