-- purpose: hubs fitted before they were sent; the workshop may fit a hub and send it with the shaft
-- params: as_of
select
    format('fitting {}, hub {}', fitting, hub) as place,
    case
        when fitted_on is null
            then format('heard of on {}, but its hub was sent only on {}', first_news, sent_later)
        else format('fitted on {}, but its hub was sent only on {}', fitted_on, sent_later)
    end as found,
    'correct one of the dates, or add the dispatch before it' as next_step
from known_fitting_days($as_of::date)
where sent_later is not null and method <> 'workshop-fitted'
order by fitting;
