-- purpose: stock counts of a size that is nowhere else on record, or of far more hubs than there can be
-- params: as_of
-- Far more: over three times the largest other count of the pattern and the largest batch made of it, and over 20
-- (judgement; shops buy in fives and tens).
with counted as (
    select *
    from known_stock_counts($as_of::date)
),

made as (
    select pattern, undersize_um from known_batches($as_of::date)
    union
    select pattern, undersize_um from known_undersizes_offered($as_of::date)
    union
    select pattern, undersize_um from known_hubs($as_of::date)
),

most as (
    select
        pattern,
        undersize_um,
        counted_on,
        max(on_hand) over (
            partition by pattern order by on_hand, undersize_um, counted_on
            rows between unbounded preceding and 1 preceding
        ) as most_else
    from counted
),

batch as (
    select pattern, max(quantity) as largest
    from known_batches($as_of::date)
    group by pattern
),

judged as (
    select
        counted.*,
        case
            when counted.pattern in (select pattern from made)
                and (counted.pattern, counted.undersize_um) not in (select (pattern, undersize_um) from made)
                then 'of this size no batch, no hub and no offer is on record'
            when counted.on_hand > 20
                and counted.on_hand > 3 * greatest(most.most_else, batch.largest)
                then format(
                    '{} on hand, where no count before was over {} and no batch over {}',
                    counted.on_hand, coalesce(most.most_else, 0), coalesce(batch.largest, 0)
                )
        end as found
    from counted
    join most
        on most.pattern = counted.pattern
        and most.undersize_um = counted.undersize_um
        and most.counted_on = counted.counted_on
    left join batch on batch.pattern = counted.pattern
)
select
    format('stock count of {} undersize {:g} on {}', pattern, undersize_um, counted_on) as place,
    found,
    'if it is a slip, correct it with --correct; a wrong key stays until its row is taken back' as next_step,
    intake
from judged
where found is not null
order by place;
