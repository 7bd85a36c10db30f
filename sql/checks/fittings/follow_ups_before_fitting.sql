-- purpose: news of a hub dated before it was fitted, or, where only the month is known, before it was sent
-- params: none
select
    format('fitting {}', news.fitting) as place,
    case
        when news.day < fittings.fitted_from
            then format('{} on {}, but fitted on {}', news.said, news.day, fittings.fitted_on)
        else format('{} on {}, but sent only on {}', news.said, news.day, fittings.sent_on)
    end as found,
    'correct one of the dates' as next_step,
    news.intake
from checked_news as news
join checked_days as fittings on fittings.fitting = news.fitting
where news.day < fittings.earliest
order by news.fitting, news.day;
