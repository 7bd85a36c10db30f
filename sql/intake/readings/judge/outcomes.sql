-- purpose: what becomes of readings whose inspection has others: the first of a place speaks for the file
-- params: correct
create or replace temp table reading_outcomes as
with slow as (
    select *
    from parsed_readings
    where sound and no in (select no from slow_inspections)
),

firsts as (
    select no, spline, station, trial, row_id, width_tenth_um, typed
    from slow
    qualify row_number() over (partition by no, spline, station, trial order by row_id) = 1
),

held as (
    select inspection, spline, station, trial, width_tenth_um, typed, intake
    from readings
    where inspection in (select inspection from slow where stored)
)

select
    slow.row_id,
    slow.row_no,
    slow.inspection,
    slow.spline,
    slow.station,
    slow.trial,
    slow.width_tenth_um,
    slow.typed,
    slow.gone,
    held.intake is not null and (not $correct::boolean or slow.row_id = firsts.row_id) as against_store,
    held.intake as held_intake,
    case when against_store then held.typed else firsts.typed end as other,
    gone_readings.replaced_by as retracted_by,
    case
        when held.intake is null and slow.width_tenth_um = gone_readings.width_tenth_um then 'retracted'
        when slow.gone then 'conflict'
        when against_store and slow.width_tenth_um = held.width_tenth_um then 'duplicate'
        when against_store and $correct::boolean then 'corrected'
        when against_store then 'conflict'
        when slow.row_id = firsts.row_id then 'accepted'
        when slow.width_tenth_um = firsts.width_tenth_um then 'duplicate'
        else 'conflict'
    end as outcome
from slow
join firsts using (no, spline, station, trial)
left join held using (inspection, spline, station, trial)
left join gone_readings using (inspection, spline, station, trial);
