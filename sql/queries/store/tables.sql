-- purpose: how many rows of each table were known by a day
-- params: as_of
select 'patterns' as table_name, count(*) as rows from known_patterns($as_of::date)
union all
select 'engine_types', count(*) from known_engine_types($as_of::date)
union all
select 'gauges', count(*) from known_gauges($as_of::date)
union all
select 'check_pieces', count(*) from known_check_pieces($as_of::date)
union all
select 'shafts', count(*) from known_shafts($as_of::date)
union all
select 'shaft_events', count(*) from known_shaft_events($as_of::date)
union all
select 'inspections', count(*) from known_inspections($as_of::date)
union all
select 'readings', count(*) from known_readings($as_of::date)
union all
select 'check_piece_loans', count(*) from known_check_piece_loans($as_of::date)
union all
select 'batches', count(*) from known_batches($as_of::date)
union all
select 'hubs', count(*) from known_hubs($as_of::date)
union all
select 'hub_spaces', count(*) from known_hub_spaces($as_of::date)
union all
select 'dispatches', count(*) from known_dispatches($as_of::date)
union all
select 'fittings', count(*) from known_fittings($as_of::date)
union all
select 'follow_ups', count(*) from known_follow_ups($as_of::date)
union all
select 'photos', count(*) from known_photos($as_of::date)
union all
select 'returns', count(*) from known_returns($as_of::date)
union all
select 'orders', count(*) from known_orders($as_of::date)
union all
select 'undersizes_offered', count(*) from known_undersizes_offered($as_of::date)
union all
select 'stock_counts', count(*) from known_stock_counts($as_of::date)
union all
select 'costs', count(*) from known_costs($as_of::date)
order by table_name;
