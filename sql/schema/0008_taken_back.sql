-- purpose: what kind of intake each is and which one it takes back; names that stand for others; what advice rested on
alter table intakes add column kind varchar default 'add'; -- add, undo, retract, rename, merge
alter table intakes add column undoes integer; -- the intake that an undo takes back
alter table intakes add column because varchar; -- why, in the shop's words

create table aliases (
    kind varchar not null, -- what is named: shaft, hub, measured_by; inspection and gauge where intake makes their names
    name varchar not null,
    stands_for varchar not null,
    intake integer not null,
    ended_by integer -- the intake by which the name is its own again
);

alter table notes add column ended_by integer; -- the intake that took back what brought it

alter table advice add column intake integer; -- the newest intake that it rested on; null where it was not kept
