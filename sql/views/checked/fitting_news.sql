-- purpose: what was heard of each fitting, with the latest intake of the news, the return or the fitting
-- params: none
create or replace macro checked_fitting_news(as_of, newest) as table
select news.*, greatest(fittings.intake, follow_ups.intake, returns.intake) as intake
from known_fitting_news(as_of) as news
left join fittings on fittings.fitting = news.fitting
left join follow_ups
    on follow_ups.fitting = news.fitting and follow_ups.seen_on = news.day and news.said <> 'sent back'
left join returns on returns.hub = fittings.hub and returns.returned_on = news.day and news.said = 'sent back';
