-- purpose: rows kept out, with their reasons, in the order in which they were met
-- params: table, settled
select
    reject,
    intake,
    file,
    table_name as "table",
    row_no as row,
    outcome,
    coalesce(column_name, '') as "column",
    found,
    allowed,
    next_step,
    more,
    row_json,
    settled_by,
    dismissed_on,
    dismissed_because
from rejects
where ($table::varchar is null or table_name = $table::varchar)
  and ($settled::boolean or (settled_by is null and dismissed_on is null))
order by reject;
