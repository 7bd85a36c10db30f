-- purpose: the first tables: one for each kind of thing that files bear, and what intake keeps beside them
-- Sizes end in _mm, differences in _um; widths are whole tenths of a micrometre, whose sums do not depend on the order
-- of adding. Words (gauge kinds, methods, states …) are checked at intake, not here: a new word must not need a rebuild.
-- Keys stand on the small tables only; readings has none, since an index makes it eight times as large.

create table intakes (
    intake integer primary key,
    added_on date not null, -- the day it counts as known, given by whoever adds
    added_at timestamp not null, -- the clock then
    files integer not null,
    bulk boolean not null -- first load of an empty store: its events count by their own dates
);

create table intake_files (
    intake integer not null,
    file varchar not null,
    table_name varchar not null,
    read integer not null,
    accepted integer not null,
    duplicate integer not null,
    conflict integer not null,
    rejected integer not null,
    content_sha256 varchar not null,
    check (read = accepted + duplicate + conflict + rejected)
);

create table patterns (
    pattern varchar not null,
    splines integer not null,
    width_mm double not null,
    space_width_mm double not null,
    minor_mm double not null,
    major_mm double not null,
    engaged_mm double not null,
    register_mm double,
    stations varchar[] not null,
    pull_on_mm double,
    grid_um double,
    lead_days integer,
    batch_size integer,
    intake integer not null,
    primary key (pattern)
);

create table gauges (
    gauge varchar not null,
    kind varchar not null,
    unit varchar not null,
    resolution double not null,
    resolution_um double not null, -- the same, converted from the gauge's unit
    checked_on date,
    intake integer not null,
    primary key (gauge)
);

create table shafts (
    shaft varchar not null,
    pattern varchar not null,
    engine varchar,
    region varchar,
    duty varchar,
    first_seen_on date,
    intake integer not null,
    primary key (shaft)
);

create table shaft_events (
    shaft varchar not null,
    happened_on date not null,
    what varchar not null,
    intake integer not null,
    primary key (shaft, happened_on, what)
);

create table inspections (
    inspection varchar not null,
    shaft varchar not null,
    measured_on date not null,
    measured_by varchar not null,
    measured_at varchar not null,
    gauge varchar not null,
    unit varchar not null,
    hours double,
    register varchar, -- as written, in the unit of the inspection
    register_mm double,
    major varchar, -- as written, in the unit of the inspection
    major_mm double,
    spline_1_marked boolean,
    check_piece_mm double,
    check_reading varchar, -- as written, in the unit of the inspection
    check_reading_mm double,
    intake integer not null,
    primary key (inspection)
);

create table readings (
    inspection varchar not null,
    spline integer not null,
    station varchar not null,
    trial integer not null,
    width_tenth_um integer not null,
    typed varchar not null, -- as written, in the unit of its inspection
    intake integer not null
);

create table batches (
    batch varchar not null,
    pattern varchar not null,
    undersize_um double not null,
    made_on date not null,
    quantity integer not null,
    go_mm double,
    no_go_mm double,
    material varchar,
    hardened boolean,
    intake integer not null,
    primary key (batch)
);

create table hubs (
    hub varchar not null,
    pattern varchar not null,
    undersize_um double not null,
    batch varchar,
    space_width_mm double,
    space_u_um double,
    register_mm double,
    intake integer not null,
    primary key (hub)
);

create table dispatches (
    hub varchar not null,
    sent_on date not null,
    shaft varchar,
    "order" varchar,
    sent_as varchar,
    inspection varchar,
    told boolean,
    intake integer not null,
    primary key (hub, sent_on)
);

create table fittings (
    fitting varchar not null,
    shaft varchar not null,
    hub varchar not null,
    fitted_on varchar, -- as written: a day, or a month where the day is not known
    fitted_from date, -- first and last day it can mean: equal where the day is known
    fitted_to date,
    method varchar not null,
    inspections varchar[],
    went_on varchar,
    pulled_mm double,
    seated boolean,
    drive_marked integer,
    coast_marked integer,
    play_um double,
    filing_min double,
    compound varchar,
    refit_of varchar,
    known_from date,
    intake integer not null,
    primary key (fitting)
);

create table follow_ups (
    fitting varchar not null,
    seen_on date not null,
    state varchar not null,
    prompted varchar,
    how varchar,
    cause varchar,
    hours double,
    intake integer not null,
    primary key (fitting, seen_on)
);

create table returns (
    hub varchar not null,
    returned_on date not null,
    reason varchar not null,
    fitting varchar,
    back_on_shelf boolean,
    intake integer not null,
    primary key (hub, returned_on)
);

create table orders (
    "order" varchar not null,
    ordered_on date not null,
    pattern varchar not null,
    region varchar,
    shaft varchar,
    asked_undersize_um double,
    outcome varchar,
    intake integer not null,
    primary key ("order")
);

create table undersizes_offered (
    pattern varchar not null,
    undersize_um double not null,
    from_on date not null,
    to_on date,
    intake integer not null,
    primary key (pattern, undersize_um, from_on)
);

create table stock_counts (
    pattern varchar not null,
    undersize_um double not null,
    counted_on date not null,
    on_hand integer not null,
    intake integer not null,
    primary key (pattern, undersize_um, counted_on)
);

create table costs (
    pattern varchar not null,
    item varchar not null,
    from_on date not null,
    amount double not null,
    currency varchar not null,
    intake integer not null,
    primary key (pattern, item, from_on)
);

create table advice (
    shaft varchar not null,
    given_on date not null,
    inspections varchar[], -- what was in hand
    "do" varchar not null,
    undersize_um double,
    method varchar,
    risk double, -- predicted chance of working loose within the horizon
    version varchar not null -- of the program
);

-- Rows that a correction replaced, as they stood: what was known on an earlier day can still be asked.

create table history_patterns as
select *, null::integer as replaced_by from patterns limit 0;

create table history_gauges as
select *, null::integer as replaced_by from gauges limit 0;

create table history_shafts as
select *, null::integer as replaced_by from shafts limit 0;

create table history_shaft_events as
select *, null::integer as replaced_by from shaft_events limit 0;

create table history_inspections as
select *, null::integer as replaced_by from inspections limit 0;

create table history_readings as
select *, null::integer as replaced_by from readings limit 0;

create table history_batches as
select *, null::integer as replaced_by from batches limit 0;

create table history_hubs as
select *, null::integer as replaced_by from hubs limit 0;

create table history_dispatches as
select *, null::integer as replaced_by from dispatches limit 0;

create table history_fittings as
select *, null::integer as replaced_by from fittings limit 0;

create table history_follow_ups as
select *, null::integer as replaced_by from follow_ups limit 0;

create table history_returns as
select *, null::integer as replaced_by from returns limit 0;

create table history_orders as
select *, null::integer as replaced_by from orders limit 0;

create table history_undersizes_offered as
select *, null::integer as replaced_by from undersizes_offered limit 0;

create table history_stock_counts as
select *, null::integer as replaced_by from stock_counts limit 0;

create table history_costs as
select *, null::integer as replaced_by from costs limit 0;

-- Rows kept out, each with its reason, so that it can be listed, mended and added again.
create table rejects (
    reject integer primary key,
    intake integer not null,
    file varchar not null,
    table_name varchar not null,
    row_no integer not null, -- as a spreadsheet numbers them: the header is row 1
    outcome varchar not null check (outcome in ('rejected', 'conflict')),
    column_name varchar, -- null where the row as a whole is meant
    found varchar not null,
    allowed varchar not null,
    next_step varchar not null,
    more varchar not null, -- further problems of the same row, a line each
    row_json varchar not null, -- the whole row as it stood: {column: text}
    settled_by integer -- the intake that accepted the mended row
);

-- Columns that no table has, as found.
create table notes (
    table_name varchar not null,
    key_json varchar not null, -- list of the key's values as files write them
    column_name varchar not null,
    value varchar not null,
    intake integer not null
);

-- Exact sums by place, so that no study needs to scan the readings; kept up to date by intake.
create table inspection_moments (
    inspection varchar not null,
    spline integer not null,
    station varchar not null,
    n integer not null,
    sum_tenth_um bigint not null,
    sumsq hugeint not null
);

-- How often each value was read, for gauges whose step is 5 um or more: rounding then hides the scatter.
create table reading_counts (
    inspection varchar not null,
    width_tenth_um integer not null,
    n integer not null
);

-- Which intakes brought readings of an inspection: decides where the sums above hold for an earlier day.
create table reading_intakes (
    inspection varchar not null,
    intake integer not null
);
