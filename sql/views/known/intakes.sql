-- purpose: the intakes whose rows were known by a day; a first bulk load counts by its events' own dates
-- params: none
create or replace macro known_intakes(as_of) as table
select intake, added_on, bulk, complete_to
from intakes
where bulk or added_on <= as_of;
