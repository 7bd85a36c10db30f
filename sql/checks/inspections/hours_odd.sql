-- purpose: hours of an engine that go back, or rise by more than the days between hold
-- params: as_of
-- Hours stand with inspections and with what was heard of fittings. A new or another engine (the shaft replaced) starts
-- anew; a clock that was changed does too, and is worth a word.
with told as (
    select shaft, measured_on as day, hours, intake, 'inspection ' || inspection as place
    from known_inspections($as_of::date)
    where hours is not null
    union all
    select fittings.shaft, news.seen_on, news.hours, news.intake, 'news of fitting ' || news.fitting
    from known_follow_ups($as_of::date) as news
    join known_fittings($as_of::date) as fittings on fittings.fitting = news.fitting
    where news.hours is not null
),

stepped as (
    select
        *,
        lag(day) over steps as day_before,
        lag(hours) over steps as hours_before,
        greatest(intake, lag(intake) over steps) as newest
    from told
    window steps as (partition by shaft order by day, hours)
)
select
    format('{}, shaft {}', stepped.place, stepped.shaft) as place,
    case
        when hours < hours_before
            then format('{:.0f} hours on {}, after {:.0f} on {}', hours, day, hours_before, day_before)
        else format(
            '{:.0f} hours on {}, after {:.0f} on {}: {:.0f} hours in {} days',
            hours, day, hours_before, day_before, hours - hours_before, day - day_before
        )
    end as found,
    'if it is a slip, correct the hours or the day with --correct' as next_step,
    stepped.newest as intake
from stepped
anti join known_shaft_events($as_of::date) as events
    on events.shaft = stepped.shaft
    and events.what = 'replaced'
    and events.happened_on between stepped.day_before and stepped.day
where (hours < hours_before and day > day_before) or hours - hours_before > 24 * (day - day_before + 1)
order by place, found;
