-- purpose: the intakes whose rows were known by a day; a first bulk load counts by its events' own dates
-- params: none
-- Every macro of what was known joins this twice, so it has nothing that those do not need.
create or replace macro known_intakes(as_of) as table
select intake, added_on, bulk, kind
from intakes
where bulk or added_on <= as_of;
