-- purpose: of the hubs that may have run on a shaft since it was measured one that came loose, or else the last
-- params: as_of, shaft, measured_on
-- One row, with what was last heard of it; an undated fitting was made by its first news.
with fitted as (
    select fitting, hub, coalesce(fitted_from, known_from) as fitted_on
    from known_fittings($as_of::date) as made
    where shaft = $shaft::varchar
      and went_on is distinct from 'would-not'
      and coalesce(
          fitted_to,
          (
              select min(seen_on)
              from known_follow_ups($as_of::date) as news
              where news.fitting = made.fitting and news.state <> 'no-answer'
          ),
          known_from,
          $as_of::date
      ) >= $measured_on::date
),
heard as (
    select
        follow_up.fitting as fitting,
        follow_up.seen_on as seen_on,
        follow_up.state as state,
        follow_up.state in ('loose', 'broken') or (follow_up.state = 'removed' and follow_up.cause = 'flanks') as loose
    from known_follow_ups($as_of::date) as follow_up
    where follow_up.fitting in (select fitting from fitted)
      and follow_up.state <> 'no-answer'
    union all
    select fitted.fitting, returned.returned_on, 'sent back', true
    from known_returns($as_of::date) as returned
    join fitted on fitted.hub = returned.hub and coalesce(returned.fitting, fitted.fitting) = fitted.fitting
    where returned.reason = 'worked-loose'
)
select
    fitted.fitting as fitting,
    fitted.hub as hub,
    max(heard.seen_on) as heard_on,
    arg_max(heard.state, heard.seen_on) as state,
    coalesce(bool_or(heard.loose), false) as loose
from fitted
left join heard on heard.fitting = fitted.fitting
group by fitted.fitting, fitted.hub, fitted.fitted_on
order by loose desc, fitted.fitted_on desc nulls last, fitted.fitting desc
limit 1;
