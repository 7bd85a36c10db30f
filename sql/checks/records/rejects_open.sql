-- purpose: rows kept out at intake that have not come in since, a row a file and table
-- params: as_of
select
    format('{}, added on {}', rejects.file, any_value(known.added_on)) as place,
    format(
        '{} of {} kept out and not yet mended; the first: row {}, {}',
        if(count(*) = 1, '1 row', format('{} rows', count(*))),
        rejects.table_name,
        arg_min(rejects.row_no, rejects.reject),
        arg_min(rejects.found, rejects.reject)
    ) as found,
    'list them with: wearstats store rejects; mend them and add them again, or dismiss them' as next_step,
    rejects.intake
from rejects
join known_intakes($as_of::date) as known on known.intake = rejects.intake
where (rejects.settled_by is null or rejects.settled_by not in (select intake from known_intakes($as_of::date)))
    and (rejects.dismissed_on is null or rejects.dismissed_on > $as_of::date)
group by rejects.intake, rejects.file, rejects.table_name
order by rejects.intake, rejects.file, rejects.table_name;
