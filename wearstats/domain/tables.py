"""The column contracts of every table: what may be typed, what must be, and what the words may be.

Intake, the paper forms, the demo writer and the store's own checks all read these, so they cannot disagree.
"""

from __future__ import annotations

from wearstats.domain.contract.columns import Column as Column
from wearstats.domain.contract.columns import Kind as Kind
from wearstats.domain.contract.columns import Table as Table
from wearstats.domain.contract.columns import choice as _choice
from wearstats.domain.contract.columns import date as _date
from wearstats.domain.contract.columns import integer as _integer
from wearstats.domain.contract.columns import number as _number
from wearstats.domain.contract.columns import text as _text
from wearstats.domain.contract.columns import yes_no as _yes_no

GAUGE_KINDS = ("micrometer-flat", "micrometer-blade", "micrometer-ball", "caliper", "plug")
UNITS = ("mm", "in", "thou", "tenth-thou")
STATIONS = ("shoulder", "middle", "nut-end")
HUB_ENDS = ("mouth", "nut-face")
"""The ends of a hub's spaces: the one that goes on first, and the outer one."""
WIDTH_CHANGES = ("dressed", "built-up", "reground", "replaced")
"""What makes a shaft another width: readings from before it tell nothing of the shaft since."""
SCRAPPED = "scrapped"
SHAFT_EVENTS = (*WIDTH_CHANGES, SCRAPPED, "crack-tested")
CONDITIONS = ("sound", "bruised", "chipped", "cracked", "twisted")
PLACES = ("home", "workshop")
METHODS = ("as-supplied", "owner-fitted", "workshop-fitted")
"""How a hub that grips by its flanks goes on."""
HELD_OTHERWISE = ("compound", "repair")
"""By a bond, or with a shim or a sleeve: kept on record, never advised, for the flanks do not hold such a hub."""
WENT_ON = ("would-not", "slid-on", "tapped", "pulled-on")
STATES = ("tight", "loose", "broken", "removed", "no-answer")
PROMPTED = ("asked", "unasked")
SEEN_HOW = ("said-so", "rocked-by-hand", "dial-gauge", "taken-off")
PHOTO_SHOWS = ("contact", "damage", "other")
CAUSES = ("flanks", "nut-slack", "register", "hub-cracked", "shaft-broken", "overload", "other", "unknown")
RETURN_REASONS = (
    "would-not-go-on", "slack-on-trial", "worked-loose", "cracked", "filed-too-far", "register-misfit",
    "wrong-pattern", "sent-wrong", "second-size-back", "not-needed", "post-damage", "other",
)  # fmt: skip
ORDER_OUTCOMES = ("sent", "special", "no-size", "declined", "went-silent", "cancelled")
COST_ITEMS = (
    "failure", "return", "filing_minute", "size_kept", "hub_made", "hub_held", "batch_setup", "lost_sale", "special",
    "workshop_fit", "postage", "measure_again", "check_piece_sent", "day_waiting",
)  # fmt: skip
ADVICE = ("send", "send-two", "measure-again", "send-shaft-here", "make-special", "decline")


_UNDERSIZE = _number("undersize_um", -500, 3000, required=True)

TABLES: tuple[Table, ...] = (
    Table(
        name="patterns",
        key=("pattern",),
        columns=(
            _text("pattern", required=True),
            _integer("splines", 3, 64, required=True),
            _number("width_mm", 0.5, 60, required=True),
            _number("space_width_mm", 0.5, 60, required=True),
            _number("minor_mm", 2, 500, required=True),
            _number("major_mm", 2, 500, required=True),
            _number("engaged_mm", 1, 500, required=True),
            _number("register_mm", 1, 500),
            Column(name="stations", kind="list", default="shoulder;middle;nut-end"),
            _number("pull_on_mm", 0, 100),
            _number("grid_um", 0.1, 500),
            _integer("lead_days", 0, 730),
            _integer("batch_size", 1, 100_000),
            _number("deepest_um", 1, 3000),
        ),
    ),
    Table(
        name="engine_types",
        key=("engine_type", "pattern"),
        columns=(_text("engine_type", required=True), _text("pattern", required=True)),
    ),
    Table(
        name="gauges",
        key=("gauge",),
        columns=(
            _text("gauge", required=True),
            _choice("kind", GAUGE_KINDS, required=True),
            _choice("unit", UNITS, required=True),
            _number("resolution", 1e-6, 100, required=True),
            _date("checked_on"),
        ),
    ),
    Table(
        name="check_pieces",
        key=("piece",),
        columns=(
            _text("piece", required=True),
            _number("size_mm", 0.1, 100, required=True),
            _number("size_u_um", 0, 50),
            _date("checked_on"),
        ),
    ),
    Table(
        name="shafts",
        key=("shaft",),
        columns=(
            _text("shaft", required=True),
            _text("pattern", required=True),
            _text("engine"),
            _text("region"),
            _text("duty"),
            _date("first_seen_on"),
            _text("owner"),
        ),
    ),
    Table(
        name="shaft_events",
        key=("shaft", "happened_on", "what"),
        columns=(
            _text("shaft", required=True),
            _date("happened_on", required=True),
            _choice("what", SHAFT_EVENTS, required=True),
        ),
    ),
    Table(
        name="inspections",
        key=("inspection",),
        columns=(
            _text("inspection", required=True),
            _text("shaft", required=True),
            _date("measured_on", required=True),
            _text("measured_by", required=True),
            _choice("measured_at", PLACES, required=True),
            _text("gauge", required=True),
            _choice("unit", UNITS, required=True),
            _number("hours", 0, 500_000),
            Column(name="register", kind="width"),
            Column(name="major", kind="width"),
            _yes_no("spline_1_marked"),
            Column(name="check_piece", kind="number", low=0.1, high=100),
            Column(name="check_reading", kind="width"),
            _text("piece"),
            Column(name="condition", kind="list", choices=CONDITIONS),
        ),
    ),
    Table(
        name="readings",
        key=("inspection", "spline", "station", "trial"),
        columns=(
            _text("inspection", required=True),
            _integer("spline", 1, 64, required=True),
            _text("station", required=True),
            _integer("trial", 1, 99, default="1"),
            Column(name="width", kind="width", required=True),
        ),
    ),
    Table(
        name="check_piece_loans",
        key=("piece", "sent_on"),
        columns=(
            _text("piece", required=True),
            _date("sent_on", required=True),
            _text("shaft"),
            _text("owner"),
            _date("back_by"),
            _date("back_on"),
        ),
    ),
    Table(
        name="batches",
        key=("batch",),
        columns=(
            _text("batch", required=True),
            _text("pattern", required=True),
            _UNDERSIZE,
            _date("made_on", required=True),
            _integer("quantity", 1, 100_000, required=True),
            _number("go_mm", 0.5, 60),
            _number("no_go_mm", 0.5, 60),
            _text("material"),
            _yes_no("hardened"),
            _date("withdrawn_on"),
            _text("withdrawn_because"),
        ),
    ),
    Table(
        name="hubs",
        key=("hub",),
        columns=(
            _text("hub", required=True),
            _text("pattern", required=True),
            _UNDERSIZE,
            _text("batch"),
            _number("space_width_mm", 0.5, 60),
            _number("space_u_um", 0, 500),
            _number("register_mm", 1, 500),
        ),
    ),
    Table(
        name="hub_spaces",
        key=("hub", "gauged_on", "space", "end"),
        columns=(
            _text("hub", required=True),
            _date("gauged_on", required=True),
            _integer("space", 1, 64, required=True),
            _choice("end", HUB_ENDS, required=True),
            _number("width_mm", 0.5, 60, required=True),
            _text("gauge"),
        ),
    ),
    Table(
        name="dispatches",
        key=("hub", "sent_on"),
        columns=(
            _text("hub", required=True),
            _date("sent_on", required=True),
            _text("shaft"),
            _text("order"),
            _choice("sent_as", METHODS),
            _text("inspection"),
            _yes_no("told"),
            _date("back_by"),
        ),
    ),
    Table(
        name="fittings",
        key=("fitting",),
        columns=(
            _text("fitting", required=True),
            _text("shaft", required=True),
            _text("hub", required=True),
            Column(name="fitted_on", kind="day_or_month"),
            _choice("method", (*METHODS, *HELD_OTHERWISE), required=True),
            Column(name="inspections", kind="list"),
            _choice("went_on", WENT_ON),
            _number("pulled_mm", 0, 200),
            _yes_no("seated"),
            _integer("drive_marked", 0, 128),
            _integer("coast_marked", 0, 128),
            _number("play_um", 0, 5000),
            _number("filing_min", 0, 10_000),
            _text("compound"),
            _text("refit_of"),
            _date("known_from"),
        ),
    ),
    Table(
        name="follow_ups",
        key=("fitting", "seen_on"),
        columns=(
            _text("fitting", required=True),
            _date("seen_on", required=True),
            _choice("state", STATES, required=True),
            _choice("prompted", PROMPTED),
            _choice("how", SEEN_HOW),
            _choice("cause", CAUSES),
            _date("failed_on"),
            _number("hours", 0, 500_000),
        ),
    ),
    Table(
        name="photos",
        key=("photo",),
        columns=(
            _text("photo", required=True),
            _text("shaft", required=True),
            _text("fitting"),
            _text("inspection"),
            _date("taken_on"),
            _choice("shows", PHOTO_SHOWS),
            _text("file_name"),
            _text("sha256", required=True),
            _integer("bytes", 1, 100_000_000, required=True),
        ),
    ),
    Table(
        name="returns",
        key=("hub", "returned_on"),
        columns=(
            _text("hub", required=True),
            _date("returned_on", required=True),
            _choice("reason", RETURN_REASONS, required=True),
            _text("fitting"),
            _yes_no("back_on_shelf"),
            _date("failed_on"),
        ),
    ),
    Table(
        name="orders",
        key=("order",),
        columns=(
            _text("order", required=True),
            _date("ordered_on", required=True),
            _text("pattern", required=True),
            _text("region"),
            _text("shaft"),
            _number("asked_undersize_um", -500, 3000),
            _choice("outcome", ORDER_OUTCOMES),
        ),
    ),
    Table(
        name="undersizes_offered",
        key=("pattern", "undersize_um", "from_on"),
        columns=(
            _text("pattern", required=True),
            _UNDERSIZE,
            _date("from_on", required=True),
            _date("to_on"),
        ),
    ),
    Table(
        name="stock_counts",
        key=("pattern", "undersize_um", "counted_on"),
        columns=(
            _text("pattern", required=True),
            _UNDERSIZE,
            _date("counted_on", required=True),
            _integer("on_hand", 0, 1_000_000, required=True),
        ),
    ),
    Table(
        name="costs",
        key=("pattern", "item", "from_on"),
        columns=(
            _text("pattern", required=True),
            _choice("item", COST_ITEMS, required=True),
            _date("from_on", required=True),
            _number("amount", 0, 1e9, required=True),
            _text("currency", required=True),
        ),
    ),
)

TABLE_BY_NAME: dict[str, Table] = {table.name: table for table in TABLES}
