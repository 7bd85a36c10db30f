-- purpose: the spaces of hubs as gauged, a row a space and end; and by when one of two sizes sent is to come back
create table hub_spaces (
    hub varchar not null,
    gauged_on date not null,
    space integer not null,
    "end" varchar not null, -- mouth: goes on first; nut-face: the outer one
    width_mm double not null,
    gauge varchar,
    intake integer not null,
    primary key (hub, gauged_on, space, "end")
);

create table history_hub_spaces as
select *, null::integer as replaced_by from hub_spaces limit 0;

alter table dispatches add column back_by date;

alter table history_dispatches add column back_by date;
