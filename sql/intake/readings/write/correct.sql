-- purpose: corrected readings in place of the old
-- params: intake
update readings as held
set width_tenth_um = outcomes.width_tenth_um, typed = outcomes.typed, intake = $intake::integer
from reading_outcomes as outcomes
where outcomes.outcome = 'corrected'
  and outcomes.inspection = held.inspection
  and outcomes.spline = held.spline
  and outcomes.station = held.station
  and outcomes.trial = held.trial;
