-- purpose: the version of the store, and how many rows kept out are still to be mended, in one row
-- params: none
select
    (select max(number) from migrations) as version,
    (select count(*) from rejects where settled_by is null and dismissed_on is null) as rejects_open
order by version;
