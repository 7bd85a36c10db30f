-- purpose: the files whose rows were known by a day, with a digest of their content
-- params: as_of
select
    added.file as file,
    added.table_name as table_name,
    added.content_sha256 as content_sha256
from intake_files as added
join known_intakes($as_of::date) as known on known.intake = added.intake
order by added.intake, added.file, added.table_name;
