-- purpose: when each fitting can have been made, of all of them
-- params: none
create or replace macro known_fitting_days(as_of) as table
from fitting_days_of_shafts(as_of, null);
