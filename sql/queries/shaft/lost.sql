-- purpose: the last day on which each of some shafts was reported broken, and on which it was scrapped, unless it was replaced since
-- params: as_of, shafts
with lost as (
    select made.shaft as shaft, 'broken' as what, news.seen_on as happened_on
    from known_follow_ups($as_of::date) as news
    join known_fittings($as_of::date) as made on made.fitting = news.fitting
    where made.shaft in (select unnest($shafts::varchar[]))
      and news.cause = 'shaft-broken'
    union all
    select shaft, what, happened_on
    from known_shaft_events($as_of::date)
    where shaft in (select unnest($shafts::varchar[]))
      and what = 'scrapped'
)
select lost.shaft as shaft, lost.what as what, max(lost.happened_on) as happened_on
from lost
where not exists (
    select 1
    from known_shaft_events($as_of::date) as done
    where done.shaft = lost.shaft
      and done.what = 'replaced'
      and done.happened_on >= lost.happened_on
)
group by lost.shaft, lost.what
order by lost.shaft, lost.what;
