-- purpose: under which code the owner of a shaft is known, a row a shaft that has one, as known by a day
-- params: as_of, shafts
with measured as (
    select shaft, arg_max(measured_by, (measured_on, inspection)) as measured_by
    from known_inspections($as_of::date)
    where measured_at = 'home'
    group by shaft
),
ordered as (
    select shaft, arg_max("order", sent_on) as "order"
    from known_dispatches($as_of::date)
    where shaft is not null
    group by shaft
)
select
    shaft.shaft as shaft,
    -- who measures at home is the owner; an order leads to him at least
    coalesce(shaft.owner, measured.measured_by, ordered."order") as owner
from known_shafts($as_of::date) as shaft
left join measured on measured.shaft = shaft.shaft
left join ordered on ordered.shaft = shaft.shaft
where coalesce(shaft.owner, measured.measured_by, ordered."order") is not null
  and ($shafts::varchar[] is null or shaft.shaft in (select unnest($shafts::varchar[])))
order by shaft.shaft;
