-- purpose: the last fitting of a shaft, with the sides that were marked when it went on
-- params: as_of, shaft
select
    fitting.fitting as fitting,
    fitting.drive_marked as drive_marked,
    fitting.coast_marked as coast_marked
from known_fittings($as_of::date) as fitting
where fitting.shaft = $shaft::varchar
order by
    coalesce(
        fitting.fitted_to,
        fitting.known_from,
        (select max(sent_on) from known_dispatches($as_of::date) as sent where sent.hub = fitting.hub)
    ) desc nulls last,
    fitting.fitting desc
limit 1;
