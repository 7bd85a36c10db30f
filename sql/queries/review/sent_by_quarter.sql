-- purpose: hubs sent, a row a quarter, as known by a day
-- params: as_of, pattern
select
    strftime(dispatch.sent_on, '%Y') || 'Q' || quarter(dispatch.sent_on) as quarter,
    count(*)::integer as sent
from known_dispatches($as_of::date) as dispatch
left join known_hubs($as_of::date) as hub on hub.hub = dispatch.hub
where $pattern::varchar is null or hub.pattern = $pattern::varchar
group by all
order by quarter;
