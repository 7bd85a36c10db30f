-- purpose: nothing; the number belongs to a change made elsewhere, whose file takes the place of this one
select 1;
