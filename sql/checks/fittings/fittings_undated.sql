-- purpose: fittings without a date whose hub has no dispatch to date them by
-- params: none
select
    format('fitting {}, hub {}', fitting, hub) as place,
    'no date of fitting, and no dispatch of its hub before it' as found,
    'add the day or the month of fitting, or the dispatch of the hub; until then it counts for nothing' as next_step,
    intake
from checked_days
where fitted_from is null and sent_on is null and (sent_later is null or method = 'workshop-fitted')
order by fitting;
