-- purpose: the intakes known by a day, with what became of their rows, what they take back and what takes them back
-- params: as_of
select
    known.intake,
    known.added_on,
    known.bulk,
    complete.complete_to,
    known.kind,
    any_value(written.undoes) as undoes,
    (select min(later.intake) from intakes as later where later.undoes = known.intake and later.added_on <= $as_of::date)
        as undone_by,
    any_value(written.because) as because,
    list_sort(list_distinct(coalesce(list(files.file) filter (where files.file is not null), []))) as files,
    (
        select string_agg(name || ' stands for ' || stands_for, ', ' order by name)
        from aliases
        where aliases.intake = known.intake and aliases.kind in ('shaft', 'hub', 'measured_by')
    ) as named,
    coalesce(sum(files.read), 0)::bigint as read,
    coalesce(sum(files.accepted), 0)::bigint as accepted,
    coalesce(sum(files.duplicate), 0)::bigint as duplicate,
    coalesce(sum(files.conflict), 0)::bigint as conflict,
    coalesce(sum(files.rejected), 0)::bigint as rejected
from known_intakes($as_of::date) as known
join intakes as written on written.intake = known.intake
left join known_complete_to($as_of::date) as complete on complete.intake = known.intake
left join intake_files as files on files.intake = known.intake
group by known.intake, known.added_on, known.bulk, complete.complete_to, known.kind
order by known.intake;
