-- purpose: when each fitting can have been made, with the intake that brought it
-- params: none
create or replace macro checked_fitting_days(as_of, newest) as table
select days.*, fittings.intake
from known_fitting_days(as_of) as days
left join fittings on fittings.fitting = days.fitting;
