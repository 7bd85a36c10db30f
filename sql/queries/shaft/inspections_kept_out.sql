-- purpose: inspections of a shaft that were kept out and are not mended, with what they said of its condition
-- params: as_of, shaft
select
    coalesce(json_extract_string(rejects.row_json, '$.inspection'), 'without a name') as inspection,
    coalesce(json_extract_string(rejects.row_json, '$.condition'), '') as condition
from rejects
join known_intakes($as_of::date) as known on known.intake = rejects.intake
where rejects.table_name = 'inspections'
  and rejects.settled_by is null
  and rejects.dismissed_on is null
  and rejects.outcome = 'rejected'
  and json_extract_string(rejects.row_json, '$.shaft') = $shaft::varchar
order by inspection, condition;
