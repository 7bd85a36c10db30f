-- purpose: fittings said to be tight after they were said to be broken
-- params: as_of
select
    format('fitting {}', broken.fitting) as place,
    format('broken on {}, tight on {}', min(broken.seen_on), min(tight.seen_on)) as found,
    'correct the state or the date; a new hub is a fitting of its own' as next_step
from known_follow_ups($as_of::date) as broken
join known_follow_ups($as_of::date) as tight on tight.fitting = broken.fitting and tight.seen_on > broken.seen_on
where broken.state = 'broken' and tight.state = 'tight'
group by broken.fitting
order by broken.fitting;
