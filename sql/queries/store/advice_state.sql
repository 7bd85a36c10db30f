-- purpose: what tells the advice given by a day from any other, in one row
-- params: as_of
select count(*) as given, sum(hash(advice)::hugeint) as digest
from known_advice($as_of::date) as advice
order by given;
