-- purpose: fittings said to be tight after they had failed, come off or come back
-- params: none
-- A looseness of another cause than the flanks (a slack nut) can be put right, and the hub be tight again.
with news as (
    select *
    from checked_news
)
select
    format('fitting {}', ended.fitting) as place,
    format('{} on {}, tight on {}', arg_min(ended.said, ended.day), min(ended.day), min(tight.day)) as found,
    'correct the state or the date; a new hub is a fitting of its own, and so is the same hub fitted again' as next_step,
    greatest(max(ended.intake), max(tight.intake)) as intake
from news as ended
join news as tight on tight.fitting = ended.fitting and tight.day > ended.day
where ended.kind in ('failed', 'ended', 'never-ran') and tight.kind = 'tight'
group by ended.fitting
order by ended.fitting;
