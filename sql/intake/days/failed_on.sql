-- purpose: the days on which arriving rows say that a hub came loose, and the days between which that can have been
-- params: none
-- A return that names no fitting is of the last one that its hub had by then.
with tight_days as (
    select fitting, seen_on as tight_on from follow_ups where state = 'tight'
    union all
    select fitting, day::date from arriving where tight = 'yes'
),

told as (
    select
        arriving.row_id::integer as row_id,
        arriving.failed_on::date as failed_on,
        arriving.day::date as told_on,
        coalesce(arriving.fitting, arg_max(placed.fitting, placed.fitted_from)) as fitting
    from arriving
    left join fittings as placed
        on arriving.fitting is null and placed.hub = arriving.hub and placed.fitted_from <= arriving.day::date
    where arriving.failed_on is not null
    group by arriving.row_id, arriving.failed_on, arriving.day, arriving.fitting
)
select
    told.row_id,
    told.failed_on,
    told.told_on,
    any_value(fittings.fitted_from) as fitted_from,
    max(tight_days.tight_on) as tight_on
from told
left join fittings on fittings.fitting = told.fitting
left join tight_days on tight_days.fitting = told.fitting and tight_days.tight_on < told.told_on
group by told.row_id, told.failed_on, told.told_on
order by told.row_id;
