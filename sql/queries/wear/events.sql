-- purpose: what was done to shafts, a row an event, as known by a day: metal went, or came, without running
-- params: as_of, shafts
select
    shaft,
    happened_on,
    what
from known_shaft_events($as_of::date)
where $shafts::varchar[] is null or shaft in (select unnest($shafts::varchar[]))
order by shaft, happened_on, what;
