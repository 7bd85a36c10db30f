-- purpose: the newest intake that brought outcomes, its day, and the newest one that says how far they are complete
-- params: as_of
with outcomes as (
    select intake from known_follow_ups($as_of::date)
    union
    select intake from known_returns($as_of::date)
),
brought as (
    select max(intake) as intake, arg_max(added_on, intake) as added_on
    from known_intakes($as_of::date)
    where intake in (select intake from outcomes)
),
stated as (
    select max(intake) as intake, arg_max(complete_to, intake) as complete_to
    from known_complete_to($as_of::date)
)
select
    brought.intake as brought_by,
    brought.added_on as brought_on,
    stated.intake as stated_by,
    stated.complete_to as complete_to
from brought
cross join stated
order by brought_by;
