-- purpose: how many rows of readings of some inspections were kept out and are not mended
-- params: as_of, shaft
select count(*) as kept_out
from rejects
join known_intakes($as_of::date) as known on known.intake = rejects.intake
where rejects.table_name = 'readings'
  and rejects.settled_by is null
  and rejects.dismissed_on is null
  and exists (
      select 1
      from known_inspections($as_of::date) as mine
      where mine.shaft = $shaft::varchar
        and json_extract_string(rejects.row_json, '$.inspection') = mine.inspection
  )
order by kept_out;
