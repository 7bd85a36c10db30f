-- purpose: fittings as a follow-up sheet names them: on which shaft, which hub, since when
-- params: as_of
select
    fitting.fitting as fitting,
    fitting.shaft as shaft,
    fitting.hub as hub,
    fitting.fitted_on as fitted_on
from known_fittings($as_of::date) as fitting
order by fitting.fitting;
