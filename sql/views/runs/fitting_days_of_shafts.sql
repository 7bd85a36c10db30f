-- purpose: when each fitting can have been made: as written, after its hub was sent, before its first news
-- params: none
-- sent_on is the last dispatch of the hub before it; sent_later, where there is none before, the next after it for the
-- same shaft. A day from which a fitting is known bounds it too, unless that day lies before the fitting. Of the hubs of
-- some shafts by a list of names, wherever they were, of all where it is null.
create or replace macro fitting_days_of_shafts(as_of, shafts) as table
with stated as (
    select *
    from known_fittings(as_of)
    where shafts is null or hub in (select hub from hubs_of_shafts(as_of, shafts))
),

sent as (
    select hub, sent_on, shaft
    from known_dispatches(as_of)
    where shafts is null or hub in (select hub from stated)
),

news as (
    select fitting, min(day) as first_news
    from (
        select fitting, seen_on as day from known_follow_ups(as_of) where state <> 'no-answer'
        union all
        select fitting, returned_on from known_returns(as_of) where fitting is not null
    )
    where shafts is null or fitting in (select fitting from stated)
    group by fitting
),

fittings as (
    select
        stated.fitting,
        stated.hub,
        stated.shaft,
        stated.method,
        stated.went_on,
        stated.refit_of,
        stated.fitted_on,
        stated.fitted_from,
        stated.fitted_to,
        stated.known_from,
        news.first_news,
        coalesce(stated.fitted_to, news.first_news, stated.known_from, as_of) as made_by
    from stated
    left join news on news.fitting = stated.fitting
),

matched as (
    select
        fittings.* exclude (made_by),
        before.sent_on,
        case
            when before.sent_on is null and coalesce(later.shaft, fittings.shaft) = fittings.shaft then later.sent_on
        end as sent_later,
        greatest(fittings.fitted_from, before.sent_on) as earliest
    from fittings
    asof left join sent as before on before.hub = fittings.hub and before.sent_on <= fittings.made_by
    asof left join sent as later on later.hub = fittings.hub and later.sent_on >= fittings.made_by
)
select
    *,
    least(
        fitted_to, as_of, first_news, case when known_from >= coalesce(earliest, known_from) then known_from end
    ) as latest
from matched;
