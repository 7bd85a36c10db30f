-- purpose: the unit that a shaft was last measured in
-- params: as_of, shaft
select mine.unit as unit
from known_inspections($as_of::date) as mine
where mine.shaft = $shaft::varchar
order by mine.measured_on desc, mine.inspection desc
limit 1;
