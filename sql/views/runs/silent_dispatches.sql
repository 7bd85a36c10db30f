-- purpose: hubs sent for some shafts (all where the list is null) of which nothing is known since: no fitting, no return
-- params: none
-- A hub sent again had come back. One that the workshop fitted may be sent with its shaft afterwards.
create or replace macro silent_dispatches(as_of, shafts) as table
with sent as (
    select hub, sent_on, shaft, lead(sent_on) over (partition by hub order by sent_on) as sent_again_on
    from known_dispatches(as_of)
)
select shaft, hub, sent_on
from sent
where shaft is not null
  and (shafts is null or shaft in (select unnest(shafts)))
  and sent_again_on is null
  and not exists (
      select 1
      from known_returns(as_of) as returned
      where returned.hub = sent.hub and returned.returned_on >= sent.sent_on
  )
  and not exists (
      select 1
      from known_fittings(as_of) as made
      where made.hub = sent.hub
        and (made.shaft = sent.shaft or made.fitted_to is null or made.fitted_to >= sent.sent_on)
  );
