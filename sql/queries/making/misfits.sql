-- purpose: hubs of a pattern that came back since they did not suit the register, and of how many sent, in one row
-- params: as_of, pattern
-- Unread: sent for a shaft of which no register had been read by then.
with sent as (
    select dispatch.hub, dispatch.sent_on, dispatch.shaft
    from known_dispatches($as_of::date) as dispatch
    join known_hubs($as_of::date) as hub on hub.hub = dispatch.hub
    where hub.pattern = $pattern::varchar
),
misfits as (
    select
        sent.hub,
        not exists (
            select 1
            from known_inspections($as_of::date) as inspection
            where inspection.shaft = sent.shaft
              and inspection.register_mm is not null
              and inspection.measured_on <= sent.sent_on
        ) as unread
    from known_returns($as_of::date) as returned
    asof join sent on sent.hub = returned.hub and sent.sent_on <= returned.returned_on
    where returned.reason = 'register-misfit'
)
select
    (select count(*) from misfits)::integer as hubs,
    (select count(*) from misfits where unread)::integer as unread,
    (select count(*) from sent)::integer as sent
order by hubs;
