-- purpose: the rows that are not taken in, with their reasons
-- params: file
create or replace temp table kept_out_readings as
with told as (
    select
        parsed.row_id,
        parsed.row_no,
        problems.place,
        problems.column_name,
        problems.found,
        problems.allowed,
        problems.next_step,
        row_number() over (partition by parsed.row_id order by problems.place) as nth
    from (select row_id, row_no, unnest(problems) as problem from parsed_readings where not sound) as parsed
    join reading_problems as problems on problems.problem = parsed.problem
)

select
    row_id,
    any_value(row_no) as row_no,
    'rejected' as outcome,
    any_value(column_name) filter (where nth = 1) as column_name,
    any_value(found) filter (where nth = 1) as found,
    any_value(allowed) filter (where nth = 1) as allowed,
    any_value(next_step) filter (where nth = 1) as next_step,
    coalesce(
        string_agg(
            concat($file::varchar, ', row ', row_no, ', ', column_name, ': ', concat_ws('; ', found, nullif(allowed, ''), nullif(next_step, ''))),
            chr(10) order by nth
        ) filter (where nth > 1),
        ''
    ) as more
from told
group by row_id
union all
select
    row_id,
    row_no,
    'conflict',
    'width',
    case
        when gone then concat('''', typed, ''' of inspection ', inspection, ', which was retracted')
        when against_store
            then concat('''', typed, ''' where the store, from intake ', held_intake, ', has ''', other, '''')
        else concat('''', typed, ''' where an earlier row of this intake has ''', other, '''')
    end,
    'one width for each inspection, spline, station and trial',
    case
        when gone then 'if it counts after all, add the inspection and its readings with --again'
        when against_store then 'if this one is right, add it again with --correct'
        else 'keep the right one'
    end,
    ''
from reading_outcomes
where outcome = 'conflict';
