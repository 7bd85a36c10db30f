-- purpose: several sizes sent to one shaft together, or a hub sent until a day, of which hubs are still to come back
-- params: as_of, pattern
-- Of several sizes sent one stays. Which one it is shows when one is fitted; until then any of them may come back.
with sent as (
    select
        dispatch.hub,
        dispatch.sent_on,
        dispatch.back_by,
        dispatch.shaft,
        coalesce(dispatch.shaft, dispatch."order", dispatch.hub) as sent_for,
        hub.pattern,
        lead(dispatch.sent_on) over (partition by dispatch.hub order by dispatch.sent_on) as sent_again_on
    from known_dispatches($as_of::date) as dispatch
    join known_hubs($as_of::date) as hub on hub.hub = dispatch.hub
),
known as (
    select
        sent.*,
        exists (
            select 1
            from known_returns($as_of::date) as returned
            where returned.hub = sent.hub
              and returned.returned_on >= sent.sent_on
              and (sent.sent_again_on is null or returned.returned_on <= sent.sent_again_on)
        ) as returned,
        exists (
            select 1
            from known_fittings($as_of::date) as made
            where made.hub = sent.hub
              and made.went_on is distinct from 'would-not'
              and (made.fitted_to is null or made.fitted_to >= sent.sent_on)
              and (sent.sent_again_on is null or coalesce(made.fitted_from < sent.sent_again_on, false))
        ) as fitted
    from sent
),
together as (
    select
        sent_for,
        sent_on,
        any_value(shaft) as shaft,
        any_value(pattern) as pattern,
        list(hub order by hub) filter (not returned and not fitted and sent_again_on is null) as hubs,
        count(*) as sizes,
        -- the hub that stayed may come back too, in its time
        count(*) filter (returned and not fitted) as returned,
        count(*) filter (fitted) as fitted,
        min(back_by) as back_by
    from known
    group by sent_for, sent_on
)
select
    together.hubs,
    least(len(together.hubs), greatest(together.sizes - 1, 1) - together.returned)::integer as to_come,
    together.pattern,
    together.shaft,
    together.sent_on,
    together.back_by,
    coalesce(greatest($as_of::date - together.back_by, 0), 0)::integer as overdue_days
from together
where len(together.hubs) > 0
  and greatest(together.sizes - 1, 1) > together.returned
  and (together.back_by is not null or (together.sizes > 1 and together.fitted > 0))
  and ($pattern::varchar is null or together.pattern = $pattern::varchar)
order by overdue_days desc, together.back_by nulls last, together.sent_on, together.hubs;
