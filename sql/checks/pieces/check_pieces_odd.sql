-- purpose: check pieces that are known too badly to check with, and loans that contradict each other or the shafts
-- params: as_of
-- A piece is to tell a bias of 5 to 10 um: known no better than to 5 um it tells little (judgement).
with loans as (
    select
        *,
        lead(sent_on) over (partition by piece order by sent_on) as next_on
    from known_check_piece_loans($as_of::date)
),

odd as (
    select
        format('check piece {}', piece) as place,
        format('known to {:.1f} µm', size_u_um) as found,
        'have it calibrated, or look for a slip: the doubt is in micrometres' as next_step,
        intake
    from known_check_pieces($as_of::date)
    where size_u_um > 5
    union all
    select
        format('loan of check piece {}, {}', piece, sent_on),
        'lent to nobody: no shaft and no owner',
        'say to whom it went, with --correct',
        intake
    from loans
    where shaft is null and owner is null
    union all
    select
        format('loan of check piece {}, {}', piece, sent_on),
        format(
            '{}, and sent out again on {}',
            if(back_on is null, 'not back', format('back on {}', back_on)), next_on
        ),
        'say when it came back, in the column back_on, with --correct',
        (
            select max(loan.intake)
            from known_check_piece_loans($as_of::date) as loan
            where loan.piece = loans.piece and loan.sent_on in (loans.sent_on, loans.next_on)
        )
    from loans
    where next_on < coalesce(back_on, date '9999-12-31')
    union all
    select
        format('loan of check piece {}, {}', loans.piece, loans.sent_on),
        format('lent to {}, but the owner of shaft {} is {}', loans.owner, loans.shaft, shaft.owner),
        'correct the owner or the shaft, with --correct',
        greatest(loans.intake, shaft.intake)
    from loans
    join known_shafts($as_of::date) as shaft on shaft.shaft = loans.shaft and shaft.owner <> loans.owner
    union all
    select
        format('inspection {}, shaft {}', inspection.inspection, inspection.shaft),
        format('reads check piece {} on {}, lent for shaft {} then', loans.piece, inspection.measured_on, loans.shaft),
        'correct the piece, or for which shaft it was lent, with --correct',
        greatest(inspection.intake, loans.intake)
    from known_inspections($as_of::date) as inspection
    join loans
        on loans.piece = inspection.piece
        and inspection.measured_on between loans.sent_on and coalesce(loans.back_on, loans.next_on, date '9999-12-31')
    where inspection.measured_at = 'home' and loans.shaft <> inspection.shaft
)
select
    place,
    found,
    next_step,
    intake
from odd
order by place, found;
