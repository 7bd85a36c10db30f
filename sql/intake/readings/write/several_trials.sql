-- purpose: whether any place of an inspection taken in whole was read more than once
-- params: none
select count(distinct trial) > 1 as several
from parsed_readings
where sound and no not in (select no from slow_inspections);
