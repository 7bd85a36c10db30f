-- purpose: what was heard of the fittings, a row an answer or a question in vain, as known by a day
-- params: as_of, shafts
select
    fitting,
    seen_on,
    state,
    prompted,
    how,
    cause,
    failed_on
from known_follow_ups($as_of::date)
where $shafts::varchar[] is null
   or fitting in (
       select fitting
       from known_fittings($as_of::date)
       where hub in (select hub from hubs_of_shafts($as_of::date, $shafts::varchar[]))
   )
order by fitting, seen_on;
