-- purpose: hubs said to have come loose on a day before they were fitted or on which they were still tight
-- params: as_of
with told as (
    select fitting, seen_on as told_on, failed_on, intake from known_follow_ups($as_of::date) where failed_on is not null
    union all
    select fitting, returned_on, failed_on, intake
    from known_returns($as_of::date)
    where failed_on is not null and fitting is not null
),

tight as (
    select fitting, seen_on, intake from known_follow_ups($as_of::date) where state = 'tight'
)
select
    format('fitting {}', told.fitting) as place,
    format(
        'came loose on {}, but {} {}',
        told.failed_on,
        case when max(tight.seen_on) > told.failed_on then 'seen tight on' else 'fitted on' end,
        case
            when max(tight.seen_on) > told.failed_on then max(tight.seen_on)::varchar
            else any_value(fittings.fitted_on)
        end
    ) as found,
    'correct one of the days; until then the day it came loose is not used' as next_step,
    greatest(max(told.intake), any_value(fittings.intake), max(tight.intake)) as intake
from told
left join known_fittings($as_of::date) as fittings on fittings.fitting = told.fitting
left join tight on tight.fitting = told.fitting and tight.seen_on < told.told_on
group by told.fitting, told.failed_on
having max(tight.seen_on) > told.failed_on or any_value(fittings.fitted_from) > told.failed_on
order by told.fitting, told.failed_on;
