-- purpose: running hours heard of when a hub was asked after, a row an answer, as known by a day
-- params: as_of
select
    fitting.shaft as shaft,
    answer.seen_on as seen_on,
    answer.state in ('loose', 'broken', 'removed') as came_off,
    answer.hours as hours
from known_follow_ups($as_of::date) as answer
join known_fittings($as_of::date) as fitting on fitting.fitting = answer.fitting
where answer.state <> 'no-answer'
order by fitting.shaft, answer.seen_on, answer.fitting;
