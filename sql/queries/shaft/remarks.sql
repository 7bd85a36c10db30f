-- purpose: what was noted beside each of some shafts, its inspections, fittings and follow-ups, in columns of no table
-- params: as_of, shafts
with inspected as (
    select shaft, inspection as name
    from known_inspections($as_of::date)
    where shaft in (select unnest($shafts::varchar[]))
),
fitted as (
    select shaft, fitting as name
    from known_fittings($as_of::date)
    where shaft in (select unnest($shafts::varchar[]))
),
mine as (
    select 'shafts' as table_name, unnest($shafts::varchar[]) as shaft, unnest($shafts::varchar[]) as name
    union all
    select 'shaft_events', unnest($shafts::varchar[]), unnest($shafts::varchar[])
    union all
    select 'inspections', shaft, name from inspected
    union all
    select 'readings', shaft, name from inspected
    union all
    select 'fittings', shaft, name from fitted
    union all
    select 'follow_ups', shaft, name from fitted
)
select
    mine.shaft as shaft,
    mine.table_name as table_name,
    mine.name as name,
    noted.column_name as column_name,
    noted.value as value
from notes as noted
join known_intakes($as_of::date) as known on known.intake = noted.intake
join mine on mine.table_name = noted.table_name and mine.name = json_extract_string(noted.key_json, '$[0]')
where coalesce(noted.ended_by not in (select intake from known_intakes($as_of::date)), true)
group by all
order by shaft, table_name, name, column_name, value;
