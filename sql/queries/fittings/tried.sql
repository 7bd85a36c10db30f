-- purpose: hubs that were tried on the shaft they were sent to, with those found slack on trial, as known by a day
-- params: as_of, pattern
with sent as (
    select *, lead(sent_on) over (partition by hub order by sent_on) as again_on
    from known_dispatches($as_of::date)
),
back as (
    select
        sent.hub,
        sent.sent_on,
        bool_or(reason = 'slack-on-trial') as slack,
        bool_or(reason in ('slack-on-trial', 'would-not-go-on', 'filed-too-far', 'worked-loose', 'cracked')) as tried
    from known_returns($as_of::date) as returned
    join sent on sent.hub = returned.hub
        and returned.returned_on >= sent.sent_on
        and (sent.again_on is null or returned.returned_on < sent.again_on)
    group by sent.hub, sent.sent_on
),
went as (
    select distinct hub, shaft from known_fittings($as_of::date) where method not in ('compound', 'repair')
)
select
    dispatch.hub || ' ' || dispatch.sent_on as fitting,
    dispatch.hub as hub,
    dispatch.shaft as shaft,
    hub.pattern as pattern,
    hub.undersize_um as undersize_um,
    hub.made_width_mm as space_width_mm,
    hub.made_u_um as space_u_um,
    hub.batch as batch,
    batch.go_mm as go_mm,
    batch.no_go_mm as no_go_mm,
    dispatch.sent_on as chosen_on,
    changed.happened_on as changed_on,
    case when dispatch.inspection is not null then [dispatch.inspection] end as inspections,
    coalesce(back.slack, false) as slack
from sent as dispatch
join known_gauged_hubs($as_of::date) as hub on hub.hub = dispatch.hub
join known_shafts($as_of::date) as shaft on shaft.shaft = dispatch.shaft and shaft.pattern = hub.pattern
left join known_batches($as_of::date) as batch on batch.batch = hub.batch
left join back on back.hub = dispatch.hub and back.sent_on = dispatch.sent_on
left join went on went.hub = dispatch.hub and went.shaft = dispatch.shaft
asof left join known_width_changes($as_of::date) as changed
    on changed.shaft = dispatch.shaft and changed.happened_on <= dispatch.sent_on
where ($pattern::varchar is null or hub.pattern = $pattern::varchar)
  and (went.hub is not null or coalesce(back.tried, false))
order by dispatch.hub, dispatch.sent_on;
