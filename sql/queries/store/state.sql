-- purpose: what tells one state of the store from every other: its version and its intakes, first to last
-- params: none
select
    intake,
    added_on::varchar as added_on,
    added_at::varchar as added_at,
    files,
    bulk,
    (select max(number) from migrations) as version
from intakes
order by intake;
