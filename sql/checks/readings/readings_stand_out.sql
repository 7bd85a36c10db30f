-- purpose: readings far from the others of their spline and from the others of their station alike
-- params: as_of
-- A hollow lies at one station of every spline, a damaged spline at all its stations; one reading by itself 80 um from
-- both is a slip, or a chip. With calipers 0.06 mm happen by chance (invented fleets), so 0.08 mm (judgement), and four
-- times what the others of the inspection scatter.
with ranges as (
    select readings.inspection
    from known_readings($as_of::date) as readings
    semi join checked_inspections as inspections on inspections.inspection = readings.inspection
    group by readings.inspection
    having max(readings.width_tenth_um) - min(readings.width_tenth_um) > 800 and count(*) > 5
),

apart as (
    select
        readings.*,
        median(width_tenth_um) over (partition by readings.inspection, spline) as of_spline,
        median(width_tenth_um) over (partition by readings.inspection, station) as of_station,
        count(*) over (partition by readings.inspection, spline) as times
    from known_readings($as_of::date) as readings
    semi join ranges on ranges.inspection = readings.inspection
),

judged as (
    select
        *,
        case
            when times > 2 then least(abs(width_tenth_um - of_spline), abs(width_tenth_um - of_station))
            else abs(width_tenth_um - of_station)
        end as far,
        median(abs(width_tenth_um - of_station)) over (partition by inspection) as usual
    from apart
)
select
    format('inspection {}, shaft {}', judged.inspection, inspections.shaft) as place,
    format(
        'spline {}, {}: {}, {:.0f} µm from the others of its spline and of its station alike',
        judged.spline, judged.station, judged.typed, judged.far / 10
    ) as found,
    'ask for it again, or correct it with --correct' as next_step,
    judged.intake
from judged
join checked_inspections as inspections on inspections.inspection = judged.inspection
where judged.far > 800 and judged.far > 4 * judged.usual
order by place, found;
