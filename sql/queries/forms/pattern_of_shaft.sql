-- purpose: the pattern of a shaft, by its name or one that stands for it; no row where it is not on record
-- params: as_of, shaft
select shaft.pattern as pattern
from known_shafts($as_of::date) as shaft
where shaft.shaft = coalesce(
    (
        select alias.stands_for
        from aliases as alias
        where alias.kind = 'shaft' and alias.name = $shaft::varchar and alias.ended_by is null
    ),
    $shaft::varchar
)
order by pattern;
