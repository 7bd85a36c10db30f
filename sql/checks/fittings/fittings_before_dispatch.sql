-- purpose: hubs fitted before they were sent; the workshop may fit a hub and send it with the shaft
-- params: none
select
    format('fitting {}, hub {}', fitting, hub) as place,
    case
        when fitted_on is null
            then format('heard of on {}, but its hub was sent only on {}', first_news, sent_later)
        else format('fitted on {}, but its hub was sent only on {}', fitted_on, sent_later)
    end as found,
    'correct one of the dates, or add the dispatch before it' as next_step,
    intake
from checked_days
where sent_later is not null and method <> 'workshop-fitted'
order by fitting;
