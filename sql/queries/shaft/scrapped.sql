-- purpose: the day on which a shaft was scrapped, unless it was replaced since
-- params: as_of, shaft
select max(gone.happened_on) as scrapped_on
from known_shaft_events($as_of::date) as gone
where gone.shaft = $shaft::varchar
  and gone.what = 'scrapped'
  and not exists (
      select 1
      from known_shaft_events($as_of::date) as done
      where done.shaft = $shaft::varchar
        and done.what = 'replaced'
        and done.happened_on >= gone.happened_on
  )
order by scrapped_on;
