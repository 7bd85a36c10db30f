-- purpose: hubs of a pattern needed, a row a day, size and fate, as known by a day; lost for want of a size counts too
-- params: as_of, pattern
-- orders declined, cancelled or gone silent are no need; a hub put back on the shelf was not needed after all; nor is one
-- that no hub was sent for and whose shaft has been scrapped since: that asks for none
with sent as (
    select
        dispatch."order",
        hub.undersize_um,
        dispatch.sent_on,
        hub.pattern,
        dispatch.hub,
        lead(dispatch.sent_on) over (partition by dispatch.hub order by dispatch.sent_on) as sent_again_on
    from known_dispatches($as_of::date) as dispatch
    join known_hubs($as_of::date) as hub on hub.hub = dispatch.hub
),
kept as (
    select
        sent.*,
        not exists (
            select 1
            from known_returns($as_of::date) as returned
            where returned.hub = sent.hub
                and returned.back_on_shelf
                and returned.returned_on >= sent.sent_on
                and (sent.sent_again_on is null or returned.returned_on <= sent.sent_again_on)
        ) as stayed
    from sent
),
of_order as (
    select "order", undersize_um, count(*) as hubs
    from kept
    where stayed and "order" is not null
    group by all
),
last_sent as (
    select "order", arg_max(undersize_um, sent_on) as undersize_um
    from kept
    where "order" is not null
    group by "order"
),
needs as (
    select
        ordered.ordered_on as needed_on,
        coalesce(of_order.undersize_um, last_sent.undersize_um) as undersize_um,
        case
            when ordered.outcome in ('no-size', 'special') then ordered.outcome
            when last_sent."order" is not null or ordered.outcome = 'sent' then 'sent'
            else 'open'
        end as fate,
        coalesce(of_order.hubs, 1) as hubs
    from known_orders($as_of::date) as ordered
    left join of_order on of_order."order" = ordered."order"
    left join last_sent on last_sent."order" = ordered."order"
    where ordered.pattern = $pattern::varchar
        and coalesce(ordered.outcome, 'open') not in ('declined', 'went-silent', 'cancelled')
        and not (
            ordered.outcome is null
            and last_sent."order" is null
            and exists (
                select 1
                from known_shaft_events($as_of::date) as event
                where event.shaft = ordered.shaft
                    and event.what = 'scrapped'
                    and event.happened_on >= ordered.ordered_on
            )
        )
    union all
    select sent_on, undersize_um, 'sent', 1
    from kept
    where stayed
        and pattern = $pattern::varchar
        and ("order" is null or "order" not in (select "order" from known_orders($as_of::date)))
)
select needed_on, undersize_um, fate, sum(hubs)::integer as hubs
from needs
group by all
order by needed_on, undersize_um nulls last, fate;
