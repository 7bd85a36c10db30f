-- purpose: a row kept out that nobody will mend is dismissed: it stays, with the day and the reason

alter table rejects add column dismissed_on date;

alter table rejects add column dismissed_because varchar;
