-- purpose: what is dated after the day on which it was added; of a first bulk load, after the day asked about too
-- params: as_of
-- Nothing counts before its day, and a slip of the year is most often why.
with dated as (
    select 'gauge ' || gauge || ', checked_on' as place, checked_on as day, intake from gauges
    union all
    select 'check piece ' || piece || ', checked_on', checked_on, intake from check_pieces
    union all
    select 'the loan of check piece ' || piece, greatest(sent_on, back_on), intake from check_piece_loans
    union all
    select 'photo ' || photo || ', taken_on', taken_on, intake from photos
    union all
    select 'shaft ' || shaft || ', first_seen_on', first_seen_on, intake from shafts
    union all
    select 'inspection ' || inspection, measured_on, intake from inspections
    union all
    select format('shaft {}, {}', shaft, what), happened_on, intake from shaft_events
    union all
    select 'batch ' || batch || ', made_on', made_on, intake from batches
    union all
    select 'batch ' || batch || ', withdrawn_on', withdrawn_on, intake from batches
    union all
    select format('the gauging of hub {}', hub), gauged_on, max(intake) from hub_spaces group by hub, gauged_on
    union all
    select 'the dispatch of hub ' || hub, sent_on, intake from dispatches
    union all
    select 'fitting ' || fitting, fitted_from, intake from fittings
    union all
    select 'the news of fitting ' || fitting, seen_on, intake from follow_ups
    union all
    select 'the return of hub ' || hub, returned_on, intake from returns
    union all
    select 'order ' || "order", ordered_on, intake from orders
    union all
    select format('the stock count of {} undersize {:g}', pattern, undersize_um), counted_on, intake from stock_counts
)
select
    dated.place,
    if(
        known.bulk,
        format('dated {}, which is still to come', dated.day),
        format('dated {}, after the day of adding, {}', dated.day, known.added_on)
    ) as found,
    'no answer counts it before then; if it is a slip, correct the day' as next_step,
    dated.intake
from dated
join known_intakes($as_of::date) as known on known.intake = dated.intake
where dated.day > if(known.bulk, greatest($as_of::date, known.added_on), known.added_on)
order by dated.day, dated.place;
