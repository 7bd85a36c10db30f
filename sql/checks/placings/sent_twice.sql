-- purpose: hubs sent again without having come back
-- params: as_of
with sent as (
    select
        hub,
        sent_on,
        shaft,
        lag(sent_on) over steps as sent_before,
        lag(shaft) over steps as shaft_before,
        greatest(intake, lag(intake) over steps) as intake
    from known_dispatches($as_of::date)
    window steps as (partition by hub order by sent_on)
)
select
    format('dispatch of hub {} on {}', sent.hub, sent.sent_on) as place,
    format(
        'sent for {} already on {}, and not known to have come back since',
        coalesce('shaft ' || sent.shaft_before, 'a shaft not named'), sent.sent_before
    ) as found,
    'correct which hub was sent, or add its return' as next_step,
    sent.intake
from sent
anti join known_returns($as_of::date) as returns
    on returns.hub = sent.hub and returns.returned_on between sent.sent_before and sent.sent_on
where sent.sent_before is not null
order by place;
