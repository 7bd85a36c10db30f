-- purpose: the batches known by a day to be withdrawn; a reason without a day counts too
-- params: none
create or replace macro known_withdrawn_batches(as_of) as table
select batch, withdrawn_on, withdrawn_because, intake -- that stated it, or corrected the batch since
from known_batches(as_of)
where withdrawn_on <= as_of or (withdrawn_on is null and withdrawn_because is not null);
