-- purpose: batches made after their hubs were sent or fitted, or withdrawn before they were made
-- params: as_of
with batches as (
    select batch, made_on, withdrawn_on, intake
    from batches
    where intake in (select intake from known_intakes($as_of::date))
),

hubs as (
    select hub, batch
    from hubs
    where batch is not null and intake in (select intake from known_intakes($as_of::date))
),

placed as (
    select hub, sent_on as day, 'sent' as what, intake from known_dispatches($as_of::date)
    union all
    select hub, fitted_to, 'fitted', intake from known_fittings($as_of::date) where fitted_to is not null
),

odd as (
    select
        batches.batch,
        format(
            'made on {}, but its hub {} was {} on {}',
            batches.made_on, arg_min(placed.hub, (placed.day, placed.hub)),
            arg_min(placed.what, (placed.day, placed.hub)), min(placed.day)
        ) as found,
        greatest(max(batches.intake), max(placed.intake)) as intake
    from batches
    join hubs on hubs.batch = batches.batch
    join placed on placed.hub = hubs.hub
    where placed.day < batches.made_on
    group by batches.batch, batches.made_on
    union all
    select batch, format('made on {}, but withdrawn on {}', made_on, withdrawn_on), intake
    from batches
    where withdrawn_on < made_on
)
select
    format('batch {}', batch) as place,
    found,
    'correct one of the days with --correct' as next_step,
    intake
from odd
order by place, found;
