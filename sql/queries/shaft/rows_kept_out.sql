-- purpose: how many rows of readings of some shafts' inspections were kept out and are not mended, by shaft
-- params: as_of, shafts
select mine.shaft as shaft, count(*) as kept_out
from rejects
join known_intakes($as_of::date) as known on known.intake = rejects.intake
join known_inspections($as_of::date) as mine
    on mine.inspection = json_extract_string(rejects.row_json, '$.inspection')
where rejects.table_name = 'readings'
  and rejects.settled_by is null
  and rejects.dismissed_on is null
  and mine.shaft in (select unnest($shafts::varchar[]))
group by mine.shaft
order by mine.shaft;
