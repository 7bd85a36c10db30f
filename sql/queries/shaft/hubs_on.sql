-- purpose: the hubs that went on each of some shafts, the last one first, with the last word of each
-- params: as_of, shafts
with told as (
    select fitting, day, said, kind from fitting_news_of_shafts($as_of::date, $shafts::varchar[])
),
news as (
    select fitting, max(day) as heard_on, arg_max(said, day) as state, arg_max(kind, day) as kind
    from told
    where kind not in ('silent', 'never-ran')
    group by fitting
),
done as (
    -- whatever is done to a shaft is done with its hub off
    select shaft, max(happened_on) as happened_on
    from known_shaft_events($as_of::date)
    where shaft in (select unnest($shafts::varchar[]))
    group by shaft
),
gone as (
    select shaft, max(happened_on) as happened_on
    from known_shaft_events($as_of::date)
    where shaft in (select unnest($shafts::varchar[]))
      and what = 'scrapped'
    group by shaft
),
never as (
    select fitting from told where kind = 'never-ran'
)
select
    made.shaft as shaft,
    made.fitting as fitting,
    made.hub as hub,
    coalesce(made.fitted_to, made.earliest, made.known_from) as fitted_on,
    news.heard_on as heard_on,
    news.state as state,
    coalesce(news.kind in ('failed', 'loose-otherwise'), false) as loose,
    coalesce(news.kind = 'ended' or news.state in ('removed', 'sent back'), false)
        or coalesce(done.happened_on > greatest(coalesce(made.fitted_to, made.latest), news.heard_on), false)
        or coalesce(gone.happened_on >= greatest(coalesce(made.earliest, made.fitted_to), news.heard_on), false) as off,
    withdrawn.batch as withdrawn_batch,
    withdrawn.withdrawn_because as withdrawn_because
from fitting_days_of_shafts($as_of::date, $shafts::varchar[]) as made
left join news on news.fitting = made.fitting
left join done on done.shaft = made.shaft
left join gone on gone.shaft = made.shaft
left join known_hubs($as_of::date) as hub on hub.hub = made.hub
left join known_withdrawn_batches($as_of::date) as withdrawn on withdrawn.batch = hub.batch
where made.shaft in (select unnest($shafts::varchar[]))
  and made.went_on is distinct from 'would-not'
  and made.fitting not in (select fitting from never)
order by
    made.shaft,
    coalesce(made.fitted_to, news.heard_on, made.earliest, made.known_from) desc nulls last,
    made.fitting desc;
