-- purpose: follow-ups dated before the hub was fitted
-- params: as_of
select
    format('fitting {}', follow_ups.fitting) as place,
    format('{} on {}, but fitted on {}', follow_ups.state, follow_ups.seen_on, fittings.fitted_on) as found,
    'correct one of the dates' as next_step
from known_follow_ups($as_of::date) as follow_ups
join fittings on fittings.fitting = follow_ups.fitting
where follow_ups.seen_on < fittings.fitted_from
order by follow_ups.fitting, follow_ups.seen_on;
