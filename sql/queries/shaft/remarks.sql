-- purpose: what was noted beside a shaft, its inspections, fittings and follow-ups, in columns that no table has
-- params: as_of, shaft
with mine as (
    select 'shafts' as table_name, $shaft::varchar as name
    union all
    select 'shaft_events', $shaft::varchar
    union all
    select 'inspections', inspection from known_inspections($as_of::date) where shaft = $shaft::varchar
    union all
    select 'readings', inspection from known_inspections($as_of::date) where shaft = $shaft::varchar
    union all
    select 'fittings', fitting from known_fittings($as_of::date) where shaft = $shaft::varchar
    union all
    select 'follow_ups', fitting from known_fittings($as_of::date) where shaft = $shaft::varchar
)
select mine.table_name as table_name, mine.name as name, noted.column_name as column_name, noted.value as value
from notes as noted
join known_intakes($as_of::date) as known on known.intake = noted.intake
join mine on mine.table_name = noted.table_name and starts_with(noted.key_json, '["' || mine.name || '"')
group by all
order by table_name, name, column_name, value;
