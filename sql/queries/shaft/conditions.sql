-- purpose: damage seen on each of some shafts that nothing since has put right, the last inspection first
-- params: as_of, shafts
-- A crack stays until the shaft was replaced or tested for cracks; a bruise until it was dressed, or was no longer seen.
with seen as (
    select shaft, inspection, measured_on, condition, unnest(condition) as word
    from known_inspections($as_of::date)
    where shaft in (select unnest($shafts::varchar[]))
),
done as (
    select shaft, what, happened_on
    from known_shaft_events($as_of::date)
    where shaft in (select unnest($shafts::varchar[]))
)
select seen.shaft as shaft, seen.inspection as inspection, seen.word as word
from seen
where seen.word <> 'sound'
  and not exists (
      select 1
      from done
      where done.shaft = seen.shaft
        and case
            -- on one day nobody can say which came first
            when seen.word = 'cracked' then done.happened_on > seen.measured_on
            else done.happened_on >= seen.measured_on
        end
        and case
            when seen.word = 'cracked' then done.what in ('replaced', 'crack-tested')
            when seen.word = 'twisted' then done.what = 'replaced'
            else done.what in ('dressed', 'reground', 'built-up', 'replaced')
        end
  )
  and (
      seen.word in ('cracked', 'twisted')
      or not exists (
          select 1
          from known_inspections($as_of::date) as later
          where later.shaft = seen.shaft
            and later.measured_on > seen.measured_on
            and later.condition is not null
            and not list_contains(later.condition, seen.word)
      )
  )
order by seen.shaft, seen.measured_on desc, seen.inspection, seen.word;
