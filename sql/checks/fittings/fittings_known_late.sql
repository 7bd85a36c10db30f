-- purpose: fittings known only from a day on which they had already ended
-- params: none
-- They are on record because they had ended: hubs that went on running and were never heard of are not, so that such
-- a fitting says nothing of how long hubs last. A looseness of another cause that was put right is no end.
with news as (
    select *
    from checked_news
),

last_running as (
    select fitting, max(day) as day
    from news
    where kind in ('tight', 'failed')
    group by fitting
),

first_ends as (
    select news.fitting, min(news.day) as day, arg_min(news.said, news.day) as said, arg_min(news.intake, news.day) as intake
    from news
    left join last_running on last_running.fitting = news.fitting
    where news.kind in ('failed', 'ended', 'never-ran')
        or (news.kind = 'loose-otherwise' and news.day >= coalesce(last_running.day, news.day))
    group by news.fitting
)
select
    format('fitting {}', fittings.fitting) as place,
    format(
        'known only from {}, but {} already on {}', fittings.known_from, first_ends.said, first_ends.day
    ) as found,
    'correct the date from which it is known; a fitting heard of only because it had ended counts for nothing' as next_step,
    greatest(fittings.intake, first_ends.intake) as intake
from checked_days as fittings
join first_ends on first_ends.fitting = fittings.fitting
where first_ends.day <= fittings.known_from
order by fittings.fitting;
