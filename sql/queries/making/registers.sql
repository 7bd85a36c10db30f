-- purpose: the register of each shaft of a pattern, the mean of what was read since it was last replaced, as known by a day
-- params: as_of, pattern
with replaced as (
    select shaft, max(happened_on) as replaced_on
    from known_shaft_events($as_of::date)
    where what = 'replaced'
    group by shaft
)
select inspection.shaft as shaft, avg(inspection.register_mm) as register_mm, count(*) as inspections
from known_inspections($as_of::date) as inspection
join known_shafts($as_of::date) as shaft on shaft.shaft = inspection.shaft
left join replaced on replaced.shaft = inspection.shaft
where shaft.pattern = $pattern::varchar
  and inspection.register_mm is not null
  and (replaced.replaced_on is null or inspection.measured_on >= replaced.replaced_on)
group by inspection.shaft
order by inspection.shaft;
