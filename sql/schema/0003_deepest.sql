-- purpose: how deep a hub's spaces may be filed at one place; null where the shop has not said.
alter table patterns add column deepest_um double;

alter table history_patterns add column deepest_um double;
