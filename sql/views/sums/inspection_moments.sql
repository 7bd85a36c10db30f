-- purpose: exact sums of the readings by inspection, spline and station, as known by a day
-- params: none
create or replace macro known_inspection_moments(as_of) as table
select *
from stated_moments(as_of)
where inspection in (select inspection from known_inspections(as_of));
