-- purpose: the patterns known
-- params: as_of
select
    pattern,
    splines,
    width_mm,
    space_width_mm,
    minor_mm,
    major_mm,
    engaged_mm,
    register_mm,
    stations,
    pull_on_mm,
    grid_um,
    lead_days,
    batch_size,
    deepest_um
from known_patterns($as_of::date)
order by pattern;
