-- purpose: the check pieces that are out, to whom and until when, those that are overdue first
-- params: as_of
-- One that was sent out again had come back, whatever is on record of it (check_pieces_odd tells it).
select
    loan.piece as piece,
    loan.sent_on as sent_on,
    loan.shaft as shaft,
    coalesce(loan.owner, shaft.owner) as owner,
    loan.back_by as back_by,
    coalesce(loan.back_by < $as_of::date, false) as overdue
from known_check_piece_loans($as_of::date) as loan
left join known_shafts($as_of::date) as shaft on shaft.shaft = loan.shaft
where loan.back_on is null
  and not exists (
      select 1
      from known_check_piece_loans($as_of::date) as later
      where later.piece = loan.piece and later.sent_on > loan.sent_on
  )
order by overdue desc, loan.back_by nulls last, loan.piece, loan.sent_on;
