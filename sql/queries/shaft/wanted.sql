-- purpose: whether anything asks for another hub since the last one went on a shaft: an order, or a return for its fit
-- params: as_of, shaft, since
select count(*) as asked
from (
    select ordered_on as day
    from known_orders($as_of::date)
    where shaft = $shaft::varchar
      and coalesce(outcome, 'open') not in ('cancelled', 'declined', 'went-silent')
    union all
    select returned.returned_on
    from known_returns($as_of::date) as returned
    join known_dispatches($as_of::date) as sent on sent.hub = returned.hub
    where sent.shaft = $shaft::varchar
      and returned.reason not in ('not-needed', 'second-size-back', 'sent-wrong')
)
where $since::date is null or day > $since::date
order by asked;
