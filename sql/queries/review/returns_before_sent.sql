-- purpose: hubs that came back before they were ever sent or fitted, a row a return, as known by a day
-- params: as_of, pattern
select returned.hub as hub, returned.returned_on as returned_on
from known_returns($as_of::date) as returned
left join known_hubs($as_of::date) as hub on hub.hub = returned.hub
where returned.fitting is null
  and ($pattern::varchar is null or hub.pattern = $pattern::varchar)
  and not exists (
      select 1
      from known_dispatches($as_of::date) as sent
      where sent.hub = returned.hub and sent.sent_on <= returned.returned_on
  )
  and not exists (
      select 1
      from known_fittings($as_of::date) as made
      where made.hub = returned.hub
        and (made.fitted_from is null or made.fitted_from <= returned.returned_on)
  )
order by returned.hub, returned.returned_on;
