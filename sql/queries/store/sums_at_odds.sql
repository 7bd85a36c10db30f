-- purpose: the inspections whose readings do not give the sums kept beside them: bytes changed where no digest saw it
-- params: none
with read as (
    select
        inspection,
        count(*) as n,
        sum(width_tenth_um) as total,
        sum(width_tenth_um::hugeint * width_tenth_um) as squares,
        sum(spline) as splines,
        sum(hash(station)::hugeint) as stations
    from readings
    group by inspection
),

kept as (
    select
        inspection,
        sum(n) as n,
        sum(sum_tenth_um) as total,
        sum(sumsq) as squares,
        sum(spline * n) as splines,
        sum(hash(station)::hugeint * n) as stations
    from inspection_moments
    group by inspection
)

select coalesce(read.inspection, kept.inspection) as inspection
from read
full join kept on kept.inspection = read.inspection
where
    (read.n, read.total, read.squares, read.splines, read.stations)
    is distinct from (kept.n, kept.total, kept.squares, kept.splines, kept.stations)
order by coalesce(read.inspection, kept.inspection);
