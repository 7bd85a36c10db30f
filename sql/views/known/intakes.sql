-- purpose: the intakes whose rows were known by a day; a first bulk load counts by its events' own dates
-- params: none
-- What an intake said of how far outcomes are complete does not count once it was taken back.
create or replace macro known_intakes(as_of) as table
select
    intake,
    added_on,
    bulk,
    case
        when intake not in (select undoes from intakes where undoes is not null and (bulk or added_on <= as_of))
            then complete_to
    end as complete_to,
    kind
from intakes
where bulk or added_on <= as_of;
