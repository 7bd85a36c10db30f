-- purpose: the day on which a shaft was last reported broken, unless it was replaced since
-- params: as_of, shaft
select max(news.seen_on) as broke_on
from known_follow_ups($as_of::date) as news
join known_fittings($as_of::date) as made on made.fitting = news.fitting
where made.shaft = $shaft::varchar
  and news.cause = 'shaft-broken'
  and not exists (
      select 1
      from known_shaft_events($as_of::date) as done
      where done.shaft = $shaft::varchar
        and done.what = 'replaced'
        and done.happened_on >= news.seen_on
  )
order by broke_on;
