-- purpose: up to three rows of a table dated three years and more before all others
-- params: as_of
-- Of twenty rows or more: where a shop's records begin, they go on (judgement). A slip of the year, most often.
with dated as (
    select 'inspections' as stands_in, 'inspection ' || inspection as place, measured_on as day, intake
    from known_inspections($as_of::date)
    union all
    select 'dispatches', 'the dispatch of hub ' || hub, sent_on, intake from known_dispatches($as_of::date)
    union all
    select 'fittings', 'fitting ' || fitting, fitted_from, intake
    from known_fittings($as_of::date)
    where fitted_from is not null
    union all
    select 'follow_ups', 'the news of fitting ' || fitting, seen_on, intake from known_follow_ups($as_of::date)
    union all
    select 'returns', 'the return of hub ' || hub, returned_on, intake from known_returns($as_of::date)
    union all
    select 'orders', 'order ' || "order", ordered_on, intake from known_orders($as_of::date)
    union all
    select 'stock_counts', format('the stock count of {} undersize {:g}', pattern, undersize_um), counted_on, intake
    from known_stock_counts($as_of::date)
),

first_days as (
    select *, row_number() over (partition by stands_in order by day, place) as number
    from dated
    qualify number <= 4 and count(*) over (partition by stands_in) >= 20
),

alone as (
    select
        *,
        max(case when after_days > 1096 then number end) over (partition by stands_in) as last_alone
    from (
        select *, lead(day) over (partition by stands_in order by number) - day as after_days
        from first_days
    )
),

next_days as (
    select stands_in, number, day
    from first_days
)
select
    alone.place,
    format('dated {}, where the next of {} is of {}', alone.day, alone.stands_in, next_days.day) as found,
    'if it is a slip, correct the day' as next_step,
    alone.intake
from alone
join next_days on next_days.stands_in = alone.stands_in and next_days.number = alone.last_alone + 1
where alone.number <= alone.last_alone
order by alone.place;
