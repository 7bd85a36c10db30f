-- purpose: hubs by number as known by a day: there, out, or back and in which state, with the size that was gauged
-- params: as_of, pattern
with sent as (
    select hub, max(sent_on) as sent_on, arg_max(shaft, sent_on) as shaft
    from known_dispatches($as_of::date)
    group by hub
),
back as (
    select
        hub,
        max(returned_on) as returned_on,
        arg_max(reason, returned_on) as reason,
        arg_max(back_on_shelf, returned_on) as back_on_shelf,
        bool_or(hub in (select hub from known_spoiled_returns($as_of::date))) as spoiled
    from known_returns($as_of::date)
    group by hub
),
put_on as (
    select
        hub,
        max(began) as fitted_on,
        arg_max(shaft, began) as shaft
    from (
        -- of one without any day, from when its hub was sent
        select made.hub, made.shaft, coalesce(made.fitted_from, made.known_from, sent.sent_on, $as_of::date) as began
        from known_fittings($as_of::date) as made
        left join sent on sent.hub = made.hub
        where made.went_on is distinct from 'would-not'
    )
    group by hub
),
joined as (
    select
        hub.*,
        sent.sent_on,
        back.returned_on,
        back.reason,
        coalesce(back.spoiled, false) as spoiled,
        coalesce(back.back_on_shelf, false) as back_on_shelf,
        coalesce(sent.shaft, put_on.shaft) as shaft,
        -- on a shaft, or filed in vain since it was gauged
        put_on.hub is not null or (hub.gauged_on is not null and not hub.gauged_as_is) as was_on,
        hub.batch in (select batch from known_withdrawn_batches($as_of::date)) as withdrawn,
        (sent.hub is null and put_on.hub is null)
        or coalesce(
            back.returned_on >= coalesce(greatest(sent.sent_on, put_on.fitted_on), back.returned_on), false
        ) as at_home
    from known_gauged_hubs($as_of::date) as hub
    left join sent on sent.hub = hub.hub
    left join back on back.hub = hub.hub
    left join put_on on put_on.hub = hub.hub
    where $pattern::varchar is null or hub.pattern = $pattern::varchar
)
select
    hub,
    pattern,
    undersize_um,
    batch,
    case
        when not at_home then 'out'
        when spoiled or (returned_on is not null and not back_on_shelf) then 'not-again'
        when withdrawn then 'withdrawn'
        when was_on and not coalesce(gauged_as_is and gauged_on >= returned_on, false) then 'to-gauge'
        else 'there'
    end as state,
    space_width_mm,
    space_u_um,
    gauged_on,
    sent_on,
    returned_on,
    reason,
    shaft
from joined
order by pattern, undersize_um, hub;
