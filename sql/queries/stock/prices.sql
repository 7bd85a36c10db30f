-- purpose: the prices of a pattern in force on the day, in the currency in which they are written down
-- params: as_of, pattern
select
    item,
    arg_max(amount, from_on) as amount,
    arg_max(currency, from_on) as currency,
    max(from_on) as from_on
from known_costs($as_of::date)
where pattern = $pattern::varchar
group by item
order by item;
