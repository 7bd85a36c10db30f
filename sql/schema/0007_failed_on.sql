-- purpose: the day on which a hub came loose, where its owner knows it; null where nobody asked or nobody knows
alter table follow_ups add column failed_on date;

alter table history_follow_ups add column failed_on date;

alter table returns add column failed_on date;

alter table history_returns add column failed_on date;
