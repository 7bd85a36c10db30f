-- purpose: what tells what was known by a day from every other state: version, intakes, rows kept out, in one row
-- params: as_of
with known as (
    select intake
    from known_intakes($as_of::date)
)
select
    (select max(number) from migrations) as version,
    (
        select md5(string_agg(to_json(intakes)::varchar, ' ' order by intake))
        from intakes
        semi join known using (intake)
    ) as intakes,
    (select sum(hash(intake_files)::hugeint) from intake_files semi join known using (intake)) as files,
    -- a row kept out is settled or dismissed later, and that counts at once
    (select sum(hash(rejects)::hugeint) from rejects semi join known using (intake)) as rejects
order by version;
