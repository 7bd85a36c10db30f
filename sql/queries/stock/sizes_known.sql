-- purpose: every undersize ever offered, made or sent, and whether it is on offer on the day
-- params: as_of
with known as (
    select pattern, undersize_um, from_on <= $as_of::date and coalesce(to_on, $as_of::date) >= $as_of::date as offered
    from known_undersizes_offered($as_of::date)
    union all
    select pattern, undersize_um, false as offered
    from known_hubs($as_of::date)
)
select pattern, undersize_um, bool_or(offered) as offered
from known
group by pattern, undersize_um
order by pattern, undersize_um;
