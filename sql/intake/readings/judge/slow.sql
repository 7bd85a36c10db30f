-- purpose: inspections whose readings must be compared one by one: some place read twice here, or readings in the store
-- params: most_cells
create or replace temp table slow_inspections as
select no
from parsed_readings
where sound
group by no
having bool_or(stored)
    or max(cell) >= $most_cells::integer
    or count(*) <> bit_count(bit_or(1::hugeint << least(cell, $most_cells::integer)));
