-- purpose: hubs back before they were sent, back without having been sent or fitted (since), or of another fitting's hub
-- params: as_of
-- That a hub was never sent says something only where dispatches are kept: of nine in ten hubs that came back or more.
with returned as (
    select *
    from known_returns($as_of::date)
),

sent as (
    select hub, min(sent_on) as first_sent, max(intake) as intake
    from known_dispatches($as_of::date)
    group by hub
),

kept as (
    select count(*) >= 10 and avg((hub in (select hub from sent))::integer) >= 0.9 as are_kept
    from returned
),

again as (
    select
        hub,
        returned_on,
        lag(returned_on) over steps as before_on,
        greatest(intake, lag(intake) over steps) as intake
    from returned
    window steps as (partition by hub order by returned_on)
),

odd as (
    select
        returned.hub,
        returned.returned_on,
        format('back on {}, but sent only on {}', returned.returned_on, sent.first_sent) as found,
        greatest(returned.intake, sent.intake) as intake
    from returned
    join sent on sent.hub = returned.hub
    where returned.returned_on < sent.first_sent
    union all
    select hub, returned_on, 'back, but never sent nor fitted', intake
    from returned
    where (select are_kept from kept)
        and hub not in (select hub from sent)
        and hub not in (select hub from known_fittings($as_of::date))
    union all
    select hub, returned_on, format('back, as on {} already, and not sent again between', before_on), intake
    from again
    where before_on is not null
        and not exists (
            select 1
            from known_dispatches($as_of::date) as dispatch
            where dispatch.hub = again.hub and dispatch.sent_on between again.before_on and again.returned_on
        )
        and not exists (
            select 1
            from known_fittings($as_of::date) as made
            where made.hub = again.hub and coalesce(made.fitted_to, again.returned_on) >= again.before_on
        )
    union all
    select
        returned.hub,
        returned.returned_on,
        format('names fitting {}, which is of hub {}', returned.fitting, fittings.hub),
        greatest(returned.intake, fittings.intake)
    from returned
    join known_fittings($as_of::date) as fittings on fittings.fitting = returned.fitting
    where fittings.hub <> returned.hub
)
select
    format('return of hub {} on {}', hub, returned_on) as place,
    found,
    'correct the day, the hub or the fitting with --correct' as next_step,
    intake
from odd
order by place, found;
