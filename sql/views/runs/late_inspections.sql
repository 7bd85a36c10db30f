-- purpose: inspections whose kept sums do not hold for a day: some of their readings came, or were corrected, later
-- params: none
create or replace macro late_inspections(as_of) as table
select inspection
from reading_intakes
where intake not in (select intake from known_intakes(as_of));
