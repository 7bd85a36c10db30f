-- purpose: the last day by which anything was known to have happened, in one row; null where nothing was
-- params: as_of
with happened as (
    select max(ordered_on) as day from known_orders($as_of::date)
    union all
    select max(measured_on) from known_inspections($as_of::date)
    union all
    select max(made_on) from known_batches($as_of::date)
    union all
    select max(counted_on) from known_stock_counts($as_of::date)
    union all
    select max(sent_on) from known_dispatches($as_of::date)
    union all
    select max(fitted_from) from known_fittings($as_of::date)
    union all
    select max(seen_on) from known_follow_ups($as_of::date)
    union all
    select max(returned_on) from known_returns($as_of::date)
    union all
    select max(happened_on) from known_shaft_events($as_of::date)
)
select max(day) as record_end
from happened
order by record_end;
