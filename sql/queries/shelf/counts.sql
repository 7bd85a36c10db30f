-- purpose: the last stock count of each size, and the hubs by number that the records had on the shelf on its day
-- params: as_of, pattern
-- A hub of which nothing says that it was made by then does not count. Hubs without a number: made in batches, less those
-- that have one; null where no batch tells, or stock was counted before the first batch.
with ranked as (
    select
        *,
        min(counted_on) over (partition by pattern, undersize_um) as first_counted_on,
        row_number() over (partition by pattern, undersize_um order by counted_on desc) as newest
    from known_stock_counts($as_of::date)
    where $pattern::varchar is null or pattern = $pattern::varchar
),
counted as (
    select pattern, undersize_um, counted_on, on_hand, first_counted_on from ranked where newest = 1
),
events as (
    select hub, sent_on as day, 0 as nth, 'sent' as what from known_dispatches($as_of::date)
    union all
    select hub, coalesce(fitted_from, known_from, $as_of::date), 1, 'on'
    from known_fittings($as_of::date)
    where went_on is distinct from 'would-not'
    union all
    select
        hub,
        returned_on,
        2,
        case
            when back_on_shelf and reason not in ('worked-loose', 'cracked', 'filed-too-far', 'post-damage') then 'back'
            else 'spoiled'
        end
    from known_returns($as_of::date)
),
of_hub as (
    select
        hub.hub,
        hub.pattern,
        hub.undersize_um,
        counted.counted_on,
        -- null where nothing says when it was made
        coalesce(batch.made_on <= counted.counted_on, hub.gauged_on <= counted.counted_on) as was_made,
        coalesce(withdrawn.withdrawn_on <= counted.counted_on, withdrawn.batch is not null) as withdrawn,
        arg_max(events.what, (events.day, events.nth)) filter (events.day <= counted.counted_on) as last_was
    from known_gauged_hubs($as_of::date) as hub
    join counted on counted.pattern = hub.pattern and counted.undersize_um = hub.undersize_um
    left join known_batches($as_of::date) as batch on batch.batch = hub.batch
    left join known_withdrawn_batches($as_of::date) as withdrawn on withdrawn.batch = hub.batch
    left join events on events.hub = hub.hub
    group by all
),
numbered as (
    select
        pattern,
        undersize_um,
        list(hub order by hub) filter (not withdrawn and coalesce(last_was = 'back', was_made and last_was is null, false)) as there,
        count(*) filter (was_made is null and last_was is null) as of_no_day,
        list(hub order by hub) filter (last_was = 'sent') as silent
    from of_hub
    group by pattern, undersize_um
),
made as (
    select
        batch.pattern,
        batch.undersize_um,
        min(batch.made_on) as first_made_on,
        sum(greatest(batch.quantity - coalesce(named.hubs, 0), 0)) as without
    from known_batches($as_of::date) as batch
    join counted
        on counted.pattern = batch.pattern
        and counted.undersize_um = batch.undersize_um
        and batch.made_on <= counted.counted_on
    left join (
        select batch, count(*) as hubs from known_hubs($as_of::date) group by batch
    ) as named on named.batch = batch.batch
    group by batch.pattern, batch.undersize_um
)
select
    counted.pattern,
    counted.undersize_um,
    counted.counted_on,
    counted.on_hand::integer as counted,
    coalesce(numbered.there, []) as there,
    coalesce(numbered.silent, []) as silent,
    case
        when made.first_made_on <= counted.first_counted_on then made.without + coalesce(numbered.of_no_day, 0)
    end::integer as without_number
from counted
left join numbered on numbered.pattern = counted.pattern and numbered.undersize_um = counted.undersize_um
left join made on made.pattern = counted.pattern and made.undersize_um = counted.undersize_um
order by counted.pattern, counted.undersize_um;
