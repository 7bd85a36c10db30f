-- purpose: what was seen and felt of the splines when they were measured; null where nobody looked.
alter table inspections add column condition varchar[];

alter table history_inspections add column condition varchar[];
