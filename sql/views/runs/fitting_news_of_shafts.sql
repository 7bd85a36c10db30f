-- purpose: what was heard of each fitting, a row an answer or a return, and how it is read
-- params: none
-- Read as tight, failed (by the flanks, or unknown), loose-otherwise (can be put right), ended, never-ran or silent.
-- A return that names no fitting belongs to the last placing of its hub: a fitting, or a dispatch never fitted.
-- Of the hubs of some shafts by a list of names, of all where it is null.
create or replace macro fitting_news_of_shafts(as_of, shafts) as table
with days as (
    select * from fitting_days_of_shafts(as_of, shafts)
),

placings as (
    select hub, coalesce(fitted_from, sent_on) as since, fitting from days
    union all
    select hub, sent_on, null
    from known_dispatches(as_of)
    where (shafts is null or hub in (select hub from days))
      and (hub, sent_on) not in (
          select (hub, coalesce(sent_on, sent_later)) from days where coalesce(sent_on, sent_later) is not null
      )
),

returned as (
    select coalesce(returns.fitting, placings.fitting) as fitting, returns.returned_on, returns.reason
    from known_returns(as_of) as returns
    asof left join placings on placings.hub = returns.hub and placings.since <= returns.returned_on
    where shafts is null or returns.hub in (select hub from days)
)
select
    fitting,
    seen_on as day,
    state as said,
    case
        when state = 'tight' then 'tight'
        when state in ('loose', 'broken') and coalesce(cause, 'unknown') in ('flanks', 'unknown') then 'failed'
        when state = 'removed' and cause = 'flanks' then 'failed'
        when state = 'loose' then 'loose-otherwise'
        when state in ('broken', 'removed') then 'ended'
        else 'silent'
    end as kind
from known_follow_ups(as_of)
where shafts is null or fitting in (select fitting from days)
union all
select
    fitting,
    returned_on,
    'sent back',
    case
        when reason = 'worked-loose' then 'failed'
        when reason in ('cracked', 'not-needed', 'other') then 'ended'
        else 'never-ran'
    end
from returned
where fitting is not null;
