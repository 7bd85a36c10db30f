-- purpose: which engine types take which pattern, as the shop knows it
create table engine_types (
    engine_type varchar not null,
    pattern varchar not null,
    intake integer not null,
    primary key (engine_type, pattern)
);

create table history_engine_types as
select *, null::integer as replaced_by from engine_types limit 0;
