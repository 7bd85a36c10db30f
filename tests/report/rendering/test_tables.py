"""Tables on a page and in plain text."""

from __future__ import annotations

from tests.report.support.made_studies import shaft_study
from wearstats.report.rendering.tables import DataTable, plain_lines
from wearstats.report.shaft.tables import choices_table, map_table


def test_plain_text_keeps_columns_apart() -> None:
    table = DataTable(
        caption="Hubs", head=("undersize", "gap left, mm"), rows=(("0.05 mm", "0.004"), ("0.125 mm", "1"))
    )
    assert plain_lines(table, width=9) == [
        "Hubs",
        "           gap left,",
        "undersize         mm",
        "0.05 mm        0.004",
        "0.125 mm           1",
    ]


def test_a_map_is_a_row_a_spline() -> None:
    table = map_table(shaft_study())
    assert table.caption == "Shaft S-3 in µm (1000 µm = 1 mm), each width give or take 6 µm"
    assert table.head[:4] == ("spline", "lost, shoulder", "lost, middle", "lost, nut-end")
    assert table.head[4:] == tuple(f"{what}, {at}" for what in ("to file", "gap left") for at in _STATIONS)
    assert table.rows[2] == ("3", "\u22122", "41", "18", "32", "0", "12", "0", "11", "0")


def test_a_map_without_a_hub_shows_the_wear_only() -> None:
    assert len(map_table(shaft_study(None)).head) == 4


def test_choices_are_a_row_a_hub_and_mark_the_advised_one() -> None:
    table = choices_table(shaft_study())
    rows = {row[:2]: row[2:] for row in table.rows}
    # the hub spoken of, by its method, and no other
    assert [row[0] for row in table.rows if "advised" in row[0]] == ["0.05 mm (0.0020 in), advised"]
    assert rows["0.05 mm (0.0020 in), advised", "owner-fitted"] == (
        "95", "0", "\u22120.012", "0.004 (0.002 to 0.006)", "70", "4.1 (2 to 8)", "140", "",
    )  # fmt: skip
    assert rows["0.00 mm (0.0000 in)", "as-supplied"][-1] == "may rattle"


_STATIONS = ("shoulder", "middle", "nut-end")
