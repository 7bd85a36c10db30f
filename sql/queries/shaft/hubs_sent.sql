-- purpose: hubs sent for each of some shafts of which nothing was heard: no fitting, no return; the last one first
-- params: as_of, shafts
-- One sent before, or with, a hub that went on since is not the one on the shaft.
with made as (
    select shaft, max(coalesce(fitted_to, latest, sent_on)) as last_made, max(coalesce(sent_on, sent_later)) as last_sent
    from fitting_days_of_shafts($as_of::date, $shafts::varchar[])
    where shaft in (select unnest($shafts::varchar[]))
    group by shaft
),
ended as (
    select shaft, max(happened_on) as happened_on
    from known_shaft_events($as_of::date)
    where shaft in (select unnest($shafts::varchar[]))
      and what in ('scrapped', 'replaced')
    group by shaft
)
select
    silent.shaft as shaft,
    silent.hub as hub,
    silent.sent_on as sent_on,
    withdrawn.batch as withdrawn_batch,
    withdrawn.withdrawn_because as withdrawn_because,
    (
        select max_by(spoiled.reason, spoiled.returned_on)
        from known_spoiled_returns($as_of::date) as spoiled
        where spoiled.hub = silent.hub and spoiled.returned_on < silent.sent_on
    ) as back_as
from silent_dispatches($as_of::date, $shafts::varchar[]) as silent
left join made on made.shaft = silent.shaft
left join ended on ended.shaft = silent.shaft
left join known_hubs($as_of::date) as hub on hub.hub = silent.hub
left join known_withdrawn_batches($as_of::date) as withdrawn on withdrawn.batch = hub.batch
where (made.last_made is null or silent.sent_on > made.last_made)
  and (made.last_sent is null or silent.sent_on > made.last_sent)
  and (ended.happened_on is null or silent.sent_on >= ended.happened_on)
order by silent.shaft, silent.sent_on desc, silent.hub;
