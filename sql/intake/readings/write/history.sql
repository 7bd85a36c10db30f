-- purpose: readings about to be corrected into the history
-- params: intake
insert into history_readings (inspection, spline, station, trial, width_tenth_um, typed, intake, replaced_by)
select held.inspection, held.spline, held.station, held.trial, held.width_tenth_um, held.typed, held.intake, $intake::integer
from readings as held
join reading_outcomes as outcomes
    on outcomes.inspection = held.inspection
    and outcomes.spline = held.spline
    and outcomes.station = held.station
    and outcomes.trial = held.trial
where outcomes.outcome = 'corrected';
