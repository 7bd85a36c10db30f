-- purpose: the last fitting of each of some shafts, with the sides that were marked when it went on
-- params: as_of, shafts
with sent as (
    select hub, max(sent_on) as sent_on from known_dispatches($as_of::date) group by hub
)
select
    fitting.shaft as shaft,
    fitting.fitting as fitting,
    fitting.drive_marked as drive_marked,
    fitting.coast_marked as coast_marked
from known_fittings($as_of::date) as fitting
left join sent on sent.hub = fitting.hub
where fitting.shaft in (select unnest($shafts::varchar[]))
qualify
    row_number() over (
        partition by fitting.shaft
        order by coalesce(fitting.fitted_to, fitting.known_from, sent.sent_on) desc nulls last, fitting.fitting desc
    ) = 1
order by fitting.shaft;
