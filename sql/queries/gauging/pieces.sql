-- purpose: the check pieces known by a day and their own sizes
-- params: as_of
select
    piece,
    size_mm
from known_check_pieces($as_of::date)
order by piece;
