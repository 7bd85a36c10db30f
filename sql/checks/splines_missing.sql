-- purpose: inspections with readings of half the splines or fewer
-- params: as_of
with measured as (
    select inspection, count(distinct spline) as splines
    from known_readings($as_of::date)
    group by inspection
)
select
    format('inspection {}, shaft {}', inspections.inspection, inspections.shaft) as place,
    format('readings of {} of {} splines', coalesce(measured.splines, 0), patterns.splines) as found,
    'ask for the rest; until then the map of this shaft rests on few splines' as next_step
from known_inspections($as_of::date) as inspections
join shafts on shafts.shaft = inspections.shaft
join patterns on patterns.pattern = shafts.pattern
left join measured on measured.inspection = inspections.inspection
where 2 * coalesce(measured.splines, 0) <= patterns.splines
order by inspections.inspection;
