-- purpose: batches that were withdrawn, since when and why; and the code under which the shop knows a shaft's owner.
alter table batches add column withdrawn_on date;

alter table batches add column withdrawn_because varchar;

alter table history_batches add column withdrawn_on date;

alter table history_batches add column withdrawn_because varchar;

alter table shafts add column owner varchar;

alter table history_shafts add column owner varchar;
