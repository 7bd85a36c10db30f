-- purpose: undersizes that were given up before they were offered
-- params: as_of
select
    format('undersize {:g} of {} offered from {}', undersize_um, pattern, from_on) as place,
    format('offered from {} to {}', from_on, to_on) as found,
    'correct one of the days with --correct' as next_step,
    intake
from known_undersizes_offered($as_of::date)
where to_on < from_on
order by place;
