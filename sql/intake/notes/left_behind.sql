-- purpose: rows that go by the shaft that a row corrected by this intake named before
-- params: intake, most
with moved as (
    select now.inspection, old.shaft as old_shaft, now.shaft as new_shaft
    from inspections as now
    join history_inspections as old
        on old.inspection = now.inspection and old.replaced_by = now.intake
    where now.intake = $intake::integer and old.shaft <> now.shaft
),
behind as (
    select
        format('the dispatch of hub {} on {}', dispatches.hub, dispatches.sent_on) as what,
        'inspection ' || moved.inspection as named,
        moved.old_shaft,
        moved.new_shaft
    from dispatches
    join moved on moved.inspection = dispatches.inspection and moved.old_shaft = dispatches.shaft
    union all
    select 'fitting ' || fittings.fitting, 'inspection ' || moved.inspection, moved.old_shaft, moved.new_shaft
    from fittings
    join moved on list_contains(fittings.inspections, moved.inspection) and moved.old_shaft = fittings.shaft
    union all
    select
        format('the dispatch of hub {} on {}', dispatches.hub, dispatches.sent_on),
        'fitting ' || now.fitting,
        old.shaft,
        now.shaft
    from fittings as now
    join history_fittings as old on old.fitting = now.fitting and old.replaced_by = now.intake
    join dispatches on dispatches.hub = now.hub and dispatches.shaft = old.shaft
    where now.intake = $intake::integer and old.shaft <> now.shaft
)
select what, named, old_shaft, new_shaft
from behind
order by what, named
limit $most::integer;
