-- purpose: the intakes known by a day, with what became of their rows
-- params: as_of
select
    intakes.intake,
    intakes.added_on,
    intakes.bulk,
    intakes.complete_to,
    coalesce(sum(files.read), 0)::bigint as read,
    coalesce(sum(files.accepted), 0)::bigint as accepted,
    coalesce(sum(files.duplicate), 0)::bigint as duplicate,
    coalesce(sum(files.conflict), 0)::bigint as conflict,
    coalesce(sum(files.rejected), 0)::bigint as rejected
from known_intakes($as_of::date) as intakes
left join intake_files as files on files.intake = intakes.intake
group by intakes.intake, intakes.added_on, intakes.bulk, intakes.complete_to
order by intakes.intake;
