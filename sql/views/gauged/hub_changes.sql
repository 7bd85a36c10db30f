-- purpose: when gauged hubs were changed by going on a shaft or by being filed, as known by a day: a row a fitting
-- params: none
-- A fitting of which only the month is known lies anywhere in it; one without any day, from when its hub was sent.
create or replace macro known_hub_changes(as_of) as table
select
    made.hub,
    made.fitting,
    coalesce(made.fitted_from, made.known_from, sent.sent_on, as_of) as changed_from,
    coalesce(made.fitted_to, made.known_from, as_of) as changed_to,
    made.intake
from known_fittings(as_of) as made
left join (
    select hub, min(sent_on) as sent_on from known_dispatches(as_of) group by hub
) as sent on sent.hub = made.hub
where made.hub in (select hub from known_hub_spaces(as_of))
  and (made.went_on is distinct from 'would-not' or made.filing_min > 0);
