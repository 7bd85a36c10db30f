-- purpose: fittings said to follow themselves, in a circle, one made later, or one on another shaft
-- params: as_of
with recursive known as (
    select *
    from known_fittings($as_of::date)
    where refit_of is not null
),

-- up the chain of each, as far as it goes, or until it meets itself
chains as (
    select fitting as start, refit_of as reached, [fitting] as seen, intake
    from known
    union all
    select chains.start, known.refit_of, list_append(chains.seen, known.fitting), greatest(chains.intake, known.intake)
    from chains
    join known on known.fitting = chains.reached
    where not list_contains(chains.seen, chains.reached)
),

odd as (
    select
        start as fitting,
        if(len(seen) = 1, 'a refit of itself', format('a refit of itself, by way of {}', array_to_string(seen[2:], ', ')))
            as found,
        intake
    from chains
    where reached = start
    union all
    select
        known.fitting,
        format('on shaft {}, but a refit of {} on shaft {}', known.shaft, earlier.fitting, earlier.shaft),
        greatest(known.intake, earlier.intake)
    from known
    join known_fittings($as_of::date) as earlier on earlier.fitting = known.refit_of
    where earlier.shaft <> known.shaft
    union all
    select
        known.fitting,
        format('of {}, but a refit of {}, which is of {}', known.fitted_on, earlier.fitting, earlier.fitted_on),
        greatest(known.intake, earlier.intake)
    from known
    join known_fittings($as_of::date) as earlier on earlier.fitting = known.refit_of
    where earlier.fitted_from > known.fitted_to
)
select
    format('fitting {}', fitting) as place,
    found,
    'correct which fitting it followed, with --correct' as next_step,
    intake
from odd
order by place, found;
