-- purpose: the day up to which outcomes are complete, where whoever added them said so
alter table intakes add column complete_to date;
