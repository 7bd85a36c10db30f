-- purpose: what an intake says happened after the day on which it was told, which no answer counts before that day
-- params: intake, most
with days as (
    select 'inspection ' || inspection as what, measured_on as happened_on, intake from inspections
    union all
    select 'fitting ' || fitting, fitted_from::date, intake from fittings
    union all
    select 'the news of fitting ' || fitting, seen_on, intake from follow_ups
    union all
    select 'the return of hub ' || hub, returned_on, intake from returns
)
select days.what, days.happened_on
from days
join intakes on intakes.intake = days.intake
where days.intake = $intake::integer and days.happened_on > intakes.added_on
order by days.happened_on, days.what
limit $most::integer;
