-- purpose: hubs that came back, a row a quarter of the return and reason, as known by a day
-- params: as_of, pattern
select
    strftime(returned.returned_on, '%Y') || 'Q' || quarter(returned.returned_on) as quarter,
    returned.reason as reason,
    count(*)::integer as returns
from known_returns($as_of::date) as returned
left join known_hubs($as_of::date) as hub on hub.hub = returned.hub
where $pattern::varchar is null or hub.pattern = $pattern::varchar
group by all
order by quarter, reason;
