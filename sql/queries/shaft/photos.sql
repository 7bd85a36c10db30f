-- purpose: the photos of some shafts, the newest first
-- params: as_of, shafts
select
    shaft,
    photo,
    fitting,
    inspection,
    taken_on,
    shows,
    file_name,
    sha256,
    bytes
from known_photos($as_of::date)
where shaft in (select unnest($shafts::varchar[]))
order by shaft, taken_on desc nulls last, photo;
