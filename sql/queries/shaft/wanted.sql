-- purpose: when something last asked for another hub for each of some shafts: an order, or a return for its fit
-- params: as_of, shafts
with asked as (
    select shaft, ordered_on as day
    from known_orders($as_of::date)
    where shaft in (select unnest($shafts::varchar[]))
      and coalesce(outcome, 'open') not in ('cancelled', 'declined', 'went-silent')
    union all
    select sent.shaft, returned.returned_on
    from known_returns($as_of::date) as returned
    join known_dispatches($as_of::date) as sent on sent.hub = returned.hub
    where sent.shaft in (select unnest($shafts::varchar[]))
      and returned.reason not in ('not-needed', 'second-size-back', 'sent-wrong')
)
select shaft, max(day) as asked_on
from asked
group by shaft
order by shaft;
