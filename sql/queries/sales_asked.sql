-- purpose: how many hubs were asked for in the year up to the day, by pattern, lost sales and specials among them
-- params: as_of
select
    pattern,
    count(*) as orders
from known_orders($as_of::date)
where ordered_on > $as_of::date - interval 1 year
  and coalesce(outcome, 'sent') in ('sent', 'special', 'no-size')
group by pattern
order by pattern;
