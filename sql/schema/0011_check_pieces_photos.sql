-- purpose: check pieces by name with their own sizes, to whom they are lent, and photos of contact marks and damage
create table check_pieces (
    piece varchar primary key,
    size_mm double not null, -- its own size, as calibrated
    size_u_um double, -- standard uncertainty of that size; null counts as none
    checked_on date,
    intake integer not null
);

create table history_check_pieces as
select *, null::integer as replaced_by from check_pieces limit 0;

create table check_piece_loans (
    piece varchar not null,
    sent_on date not null,
    shaft varchar,
    owner varchar,
    back_by date, -- the day by which it is to be back
    back_on date, -- the day on which it came back; null while it is out
    intake integer not null,
    primary key (piece, sent_on)
);

create table history_check_piece_loans as
select *, null::integer as replaced_by from check_piece_loans limit 0;

alter table inspections add column piece varchar; -- the check piece that was read, where it has a name

alter table history_inspections add column piece varchar;

create table photos (
    photo varchar primary key, -- made from the digest
    shaft varchar not null,
    fitting varchar,
    inspection varchar,
    taken_on date,
    shows varchar,
    file_name varchar, -- as it was given
    sha256 varchar not null, -- of the file as it is kept
    bytes integer not null,
    intake integer not null
);

create table history_photos as
select *, null::integer as replaced_by from photos limit 0;
