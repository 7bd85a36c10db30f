-- purpose: names of all batches in the order in which they were made, as known by a day
-- params: as_of
select batch from known_batches($as_of::date) order by made_on, batch;
