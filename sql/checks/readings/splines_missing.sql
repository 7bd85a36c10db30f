-- purpose: inspections with readings of half the splines or fewer
-- params: as_of
-- A spline is a bit of 64, as many as there may be: counting different ones takes four times as long.
with measured as (
    select inspection, bit_count(bit_or(1::ubigint << (spline - 1)::ubigint)) as splines
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
