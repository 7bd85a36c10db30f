-- purpose: inspections of each of some shafts that were kept out and are not mended, with what they said of its condition
-- params: as_of, shafts
select
    json_extract_string(rejects.row_json, '$.shaft') as shaft,
    coalesce(json_extract_string(rejects.row_json, '$.inspection'), 'without a name') as inspection,
    coalesce(json_extract_string(rejects.row_json, '$.condition'), '') as condition
from rejects
join known_intakes($as_of::date) as known on known.intake = rejects.intake
where rejects.table_name = 'inspections'
  and rejects.settled_by is null
  and rejects.dismissed_on is null
  and rejects.outcome = 'rejected'
  and json_extract_string(rejects.row_json, '$.shaft') in (select unnest($shafts::varchar[]))
order by shaft, inspection, condition;
