-- purpose: the names in the store that a notebook offers to choose from, by the table that they are the key of
-- params: as_of
select 'patterns' as table_name, pattern as name from known_patterns($as_of::date)
union all
select 'gauges' as table_name, gauge as name from known_gauges($as_of::date)
union all
select 'shafts' as table_name, shaft as name from known_shafts($as_of::date)
union all
select 'hubs' as table_name, hub as name from known_hubs($as_of::date)
union all
select 'fittings' as table_name, fitting as name from known_fittings($as_of::date)
order by table_name, name;
