-- purpose: hubs that would not go on, yet were heard of as running
-- params: none
select
    format('fitting {}, hub {}', fittings.fitting, fittings.hub) as place,
    format('would not go on, yet {} on {}', arg_min(news.said, news.day), min(news.day)) as found,
    'correct how it went on; a hub that went on later is a fitting of its own' as next_step,
    max(news.intake) as intake
from checked_days as fittings
join checked_news as news on news.fitting = fittings.fitting
where fittings.went_on = 'would-not' and news.kind in ('tight', 'failed')
group by fittings.fitting, fittings.hub
order by fittings.fitting;
