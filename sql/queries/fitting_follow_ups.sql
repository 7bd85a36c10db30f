-- purpose: what was heard of the fittings, a row an answer or a question in vain, as known by a day
-- params: as_of
select
    fitting,
    seen_on,
    state,
    prompted,
    how,
    cause
from known_follow_ups($as_of::date)
order by fitting, seen_on;
