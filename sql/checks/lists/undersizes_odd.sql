-- purpose: undersizes that nobody makes, or that are unlike all others of their pattern
-- params: as_of
-- Under 1 um it can only be millimetres; under 5 um a thou, since hubs of so like sizes cannot be told apart (common
-- practice, no source). The pattern's own step rules where it is given. Far off is three times the largest of five
-- other sizes or more; below 0, where no other is. A hub of a batch has the batch's, and says so elsewhere.
with stated as (
    select 'batch ' || batch as place, pattern, undersize_um, intake, true as made
    from known_batches($as_of::date)
    union all
    select 'hub ' || hub, pattern, undersize_um, intake, true
    from known_hubs($as_of::date)
    where batch is null
    union all
    select format('undersize offered of {} from {}', pattern, from_on), pattern, undersize_um, intake, true
    from known_undersizes_offered($as_of::date)
    union all
    select format('stock count of {} on {}', pattern, counted_on), pattern, undersize_um, intake, true
    from known_stock_counts($as_of::date)
    union all
    select 'order ' || "order", pattern, asked_undersize_um, intake, false
    from known_orders($as_of::date)
    where asked_undersize_um is not null
),

sizes as (
    select pattern, undersize_um, count(*) as times
    from stated
    where made
    group by pattern, undersize_um
),

-- the others of a size: all that are not it
others as (
    select
        one.pattern,
        one.undersize_um,
        count(*) as sizes,
        max(abs(other.undersize_um)) as largest_um,
        min(other.undersize_um) as least_um
    from (select distinct pattern, undersize_um from stated) as one
    join sizes as other on other.pattern = one.pattern and other.undersize_um <> one.undersize_um
    group by one.pattern, one.undersize_um
),

judged as (
    select
        stated.place,
        stated.intake,
        case
            when abs(stated.undersize_um) < 1
                then format('undersize {:g} µm is less than can be made: in mm?', stated.undersize_um)
            when abs(stated.undersize_um) < 5
                then format('undersize {:g} µm is less than can be told apart: in thou?', stated.undersize_um)
            when others.sizes >= 5 and abs(stated.undersize_um) > 3 * others.largest_um
                then format(
                    'undersize {:g} µm, where the others of {} go up to {:g} µm',
                    stated.undersize_um, stated.pattern, others.largest_um
                )
            when others.sizes >= 5 and stated.undersize_um < 0 and others.least_um >= 0
                then format(
                    'undersize {:g} µm, wider than the standard hub, where no other of {} is',
                    stated.undersize_um, stated.pattern
                )
            when stated.made
                and abs(stated.undersize_um - round(stated.undersize_um / patterns.grid_um) * patterns.grid_um) > 0.6
                then format(
                    'undersize {:g} µm is not on the steps of {:g} µm in which {} is made',
                    stated.undersize_um, patterns.grid_um, stated.pattern
                )
        end as found
    from stated
    left join others on others.pattern = stated.pattern and others.undersize_um = stated.undersize_um
    left join known_patterns($as_of::date) as patterns on patterns.pattern = stated.pattern
    where stated.undersize_um <> 0
)
select
    place,
    found,
    'if it is a slip, correct it with --correct; a wrong key stays until its row is taken back' as next_step,
    intake
from judged
where found is not null
order by place, found;
