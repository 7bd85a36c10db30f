-- purpose: when hubs may have, and have, run on some shafts, or things been done to them, as known by a day
-- params: none
-- Of some shafts by a list of names, of all where it is null: what they need of other tables is picked out first.
create or replace macro runs_of_shafts(as_of, shafts) as table
with fitted as (
    select *
    from known_fittings(as_of)
    where shafts is null or shaft in (select unnest(shafts))
),
sent as (
    select hub, max(sent_on) as sent_on
    from known_dispatches(as_of)
    where shafts is null or hub in (select hub from fitted)
    group by hub
),
chosen_on as (
    -- the inspections that a fitting names were made before it
    select named.fitting as fitting, max(inspection.measured_on) as measured_on
    from (select fitting, unnest(inspections) as inspection from fitted) as named
    join known_inspections(as_of) as inspection on inspection.inspection = named.inspection
    group by named.fitting
),
first_news as (
    select fitting, min(seen_on) as seen_on
    from known_follow_ups(as_of)
    where shafts is null or fitting in (select fitting from fitted)
    group by fitting
)
-- a hub that would not go on has worn nothing; of a month, or an unknown day, only first and last day are sure
select
    fitting.shaft as shaft,
    coalesce(greatest(fitting.fitted_from, sent.sent_on, chosen_on.measured_on), '1900-01-01'::date) as ran_from,
    coalesce(fitting.fitted_to, first_news.seen_on, as_of) as ran_to
from fitted as fitting
left join sent on sent.hub = fitting.hub
left join first_news on first_news.fitting = fitting.fitting
left join chosen_on on chosen_on.fitting = fitting.fitting
where fitting.went_on is distinct from 'would-not'
union all
-- a hub sent of which no fitting is known has run too, for all we know, unless it came back unfitted
select dispatch.shaft as shaft, dispatch.sent_on as ran_from, as_of as ran_to
from known_dispatches(as_of) as dispatch
where dispatch.shaft is not null
  and (shafts is null or dispatch.shaft in (select unnest(shafts)))
  and dispatch.hub not in (select hub from known_fittings(as_of))
  and dispatch.hub not in (
      select hub
      from known_returns(as_of)
      where reason not in ('worked-loose', 'cracked', 'filed-too-far', 'other')
  )
union all
-- one that was on another shaft before, and was sent here since
select silent.shaft as shaft, silent.sent_on as ran_from, as_of as ran_to
from silent_dispatches(as_of, shafts) as silent
where silent.hub in (select hub from known_fittings(as_of))
   or silent.hub in (
       select hub
       from known_returns(as_of)
       where reason not in ('worked-loose', 'cracked', 'filed-too-far', 'other')
   )
union all
-- what makes a shaft another width ends what was read before, as a hub that ran does
select shaft, happened_on - 1 as ran_from, happened_on - 1 as ran_to
from known_width_changes(as_of)
where shafts is null or shaft in (select unnest(shafts));
