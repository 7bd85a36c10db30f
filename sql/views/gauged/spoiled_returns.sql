-- purpose: what came back, known by a day, as no hub may go on again: loose, cracked, filed too far, damaged by the post
-- params: none
-- What came back so is never tight again, however it is filed (common practice, no source).
create or replace macro known_spoiled_returns(as_of) as table
select hub, returned_on, reason, intake
from known_returns(as_of)
where reason in ('worked-loose', 'cracked', 'filed-too-far', 'post-damage');
