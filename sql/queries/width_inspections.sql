-- purpose: each inspection with who measured by what, and how many hubs may have run, and have, on its shaft before it
-- params: as_of, pattern, shaft
with sent as (
    select hub, max(sent_on) as sent_on
    from known_dispatches($as_of::date)
    group by hub
),
chosen_on as (
    -- the inspections that a fitting names were made before it
    select named.fitting as fitting, max(inspection.measured_on) as measured_on
    from (select fitting, unnest(inspections) as inspection from known_fittings($as_of::date)) as named
    join known_inspections($as_of::date) as inspection on inspection.inspection = named.inspection
    group by named.fitting
),
first_news as (
    select fitting, min(seen_on) as seen_on
    from known_follow_ups($as_of::date)
    group by fitting
),
ran as (
    -- a hub that would not go on has worn nothing; of a month, or an unknown day, only first and last day are sure
    select
        fitting.shaft as shaft,
        coalesce(greatest(fitting.fitted_from, sent.sent_on, chosen_on.measured_on), '1900-01-01'::date) as ran_from,
        coalesce(fitting.fitted_to, first_news.seen_on, $as_of::date) as ran_to
    from known_fittings($as_of::date) as fitting
    left join sent on sent.hub = fitting.hub
    left join first_news on first_news.fitting = fitting.fitting
    left join chosen_on on chosen_on.fitting = fitting.fitting
    where fitting.went_on is distinct from 'would-not'
    union all
    -- a hub sent of which no fitting is known has run too, for all we know, unless it came back unfitted
    select dispatch.shaft as shaft, dispatch.sent_on as ran_from, $as_of::date as ran_to
    from known_dispatches($as_of::date) as dispatch
    where dispatch.shaft is not null
      and dispatch.hub not in (select hub from known_fittings($as_of::date))
      and dispatch.hub not in (
          select hub
          from known_returns($as_of::date)
          where reason not in ('worked-loose', 'cracked', 'filed-too-far', 'other')
      )
    union all
    select shaft, happened_on - 1 as ran_from, happened_on - 1 as ran_to
    from known_shaft_events($as_of::date)
)
select
    inspection.inspection as inspection,
    inspection.shaft as shaft,
    shaft.pattern as pattern,
    shaft.duty as duty,
    shaft.region as region,
    inspection.measured_on as measured_on,
    inspection.measured_at as measured_at,
    inspection.measured_by || ' / ' || inspection.gauge as measurer,
    coalesce(gauge.kind, 'micrometer-flat') as gauge_kind,
    coalesce(gauge.resolution_um, case when inspection.unit = 'mm' then 10.0 else 25.4 end) as step_um,
    inspection.unit as read_in,
    (inspection.check_reading_mm - inspection.check_piece_mm) * 1000 as check_um,
    coalesce(inspection.spline_1_marked, false) as marked,
    inspection.register_mm as register_mm,
    inspection.hours as hours,
    (
        select count(*)
        from ran
        where ran.shaft = inspection.shaft and ran.ran_from < inspection.measured_on
    ) as hubs_before,
    (
        select count(*)
        from ran
        where ran.shaft = inspection.shaft and ran.ran_to < inspection.measured_on
    ) as hubs_surely_before
from known_inspections($as_of::date) as inspection
join known_shafts($as_of::date) as shaft on shaft.shaft = inspection.shaft
left join known_gauges($as_of::date) as gauge on gauge.gauge = inspection.gauge
where ($pattern::varchar is null or shaft.pattern = $pattern::varchar)
  and ($shaft::varchar is null or inspection.shaft = $shaft::varchar)
order by inspection.shaft, inspection.measured_on, inspection.inspection;
