-- purpose: inspections with readings of half the splines or fewer
-- params: as_of
-- A spline is a bit of 64, as many as there may be: counting different ones takes four times as long. Without any
-- readings an inspection is of no intake: they may come with the next.
with measured as (
    select
        readings.inspection,
        bit_count(bit_or(1::ubigint << (readings.spline - 1)::ubigint)) as splines,
        max(readings.intake) as intake
    from known_readings($as_of::date) as readings
    semi join checked_inspections as inspections on inspections.inspection = readings.inspection
    group by readings.inspection
)
select
    format('inspection {}, shaft {}', inspections.inspection, inspections.shaft) as place,
    format('readings of {} of {} splines', coalesce(measured.splines, 0), patterns.splines) as found,
    'ask for the rest; until then the map of this shaft rests on few splines' as next_step,
    measured.intake
from checked_inspections as inspections
join shafts on shafts.shaft = inspections.shaft
join patterns on patterns.pattern = shafts.pattern
left join measured on measured.inspection = inspections.inspection
where 2 * coalesce(measured.splines, 0) <= patterns.splines
order by inspections.inspection;
