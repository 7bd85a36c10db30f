"""Hubs gauged by space and end: how they come in, what they give, and which gauging tells of a hub when."""

from __future__ import annotations

import datetime
import statistics
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.store.support.small_store import LATE, make_store, small_rows
from wearstats.store.checks import run_checks
from wearstats.store.database.connection import Store, open_store
from wearstats.store.intake.add import add_files

MOUTH = ("5.962", "5.961", "5.963", "5.962", "5.960", "5.962", "5.963", "5.961")
NUT_FACE = ("5.958", "5.957", "5.959", "5.958", "5.957", "5.959", "5.958", "5.957")
DAY = "2025-12-05"


def wide(
    hub: str = "H2",
    day: str = DAY,
    *,
    gauge: str = "G1",
    mouth: tuple[str, ...] = MOUTH,
    nut_face: tuple[str, ...] = NUT_FACE,
) -> str:
    rows = "".join(f"{at};{one};{other}\n" for at, (one, other) in enumerate(zip(mouth, nut_face, strict=True), 1))
    return f"hub_spaces\nhub: {hub}\ngauged on: {day}\ngauge: {gauge}\nspace;mouth;Nut face\n{rows}"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(make_store(tmp_path / "bench.duckdb", small_rows()), write=True) as opened:
        yield opened


def added(store: Store, text: str, on: datetime.date = LATE) -> tuple[str, ...]:
    report = add_files(store, [], text=text, added_on=on)
    return tuple(problem for file in report.files for problem in file.problems)


def hub(store: Store, name: str = "H2") -> dict[str, object]:
    rows = store.table("select * from known_gauged_hubs($day) where hub = $hub", {"day": LATE, "hub": name})
    return {str(key): value for key, value in rows.iloc[0].to_dict().items()}


def test_a_row_a_space_comes_in_and_gives_what_the_formulas_say(store: Store) -> None:
    # JCGM 100:2008, 4.2.3 (s²/n) and F.2.2.1 (step²/12), by the standard library's own mean and variance
    assert added(store, wide()) == ()
    assert store.value("select count(*) from hub_spaces") == 16
    ends = [[1000 * float(text) for text in end] for end in (MOUTH, NUT_FACE)]
    within = sum(statistics.variance(end) for end in ends) / 2
    spaces = [statistics.mean(pair) for pair in zip(*ends, strict=True)]
    found = hub(store)
    assert found["space_width_mm"] == pytest.approx(statistics.mean(ends[0] + ends[1]) / 1000, abs=1e-9)
    assert found["taper_um"] == pytest.approx(statistics.mean(ends[0]) - statistics.mean(ends[1]))
    assert found["spread_um"] == pytest.approx(statistics.stdev(spaces))
    assert found["space_u_um"] == pytest.approx((1 + within / 16 + 1 / 12) ** 0.5)


def test_long_rows_mean_the_same_and_blank_places_are_none(store: Store) -> None:
    rows = "".join(
        f"H2,{DAY},{at},{end},{width},G1\n"
        for end, widths in (("mouth", MOUTH), ("nut-face", NUT_FACE))
        for at, width in enumerate(widths, 1)
    )
    assert added(store, f"hub_spaces\nhub,gauged_on,space,end,width_mm,gauge\n{rows}") == ()
    report = add_files(store, [], text=wide(), added_on=LATE)
    assert (report.files[0].duplicate, report.files[0].accepted) == (16, 0)
    assert added(store, wide("H1", nut_face=("",) * 8)) == ()
    assert store.value("select count(*) from hub_spaces where hub = 'H1'") == 8


def test_spaces_that_were_not_gauged_are_in_the_doubt(store: Store) -> None:
    # Cochran, Sampling Techniques, 2.6: (1 - n/N) s²/n of the mean of n out of N
    assert added(store, wide(mouth=("5.96", *[""] * 7), nut_face=("5.96", *[""] * 7))) == ()
    assert hub(store)["space_u_um"] == pytest.approx((1 + 1 / 12 + (1 - 1 / 8) * 25) ** 0.5)
    assert added(store, wide("H1", mouth=("5.96", *[""] * 7), nut_face=("",) * 8)) == ()
    assert hub(store, "H1")["space_u_um"] == pytest.approx((1 + 1 / 12 + (1 - 1 / 8) * 25 + 25) ** 0.5)


def test_without_a_gauge_the_step_is_the_coarsest_on_which_all_widths_lie(store: Store) -> None:
    assert added(store, wide(gauge="", mouth=("5.96",) * 8, nut_face=("5.96",) * 8)) == ()
    assert hub(store)["space_u_um"] == pytest.approx((1 + 100 / 12) ** 0.5)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (wide().replace("8;5.961", "9;5.961"), "space 9 of 8; 1 to 8, as D8 has them"),
        (wide(mouth=("0.2347", *MOUTH[1:])), "'0.2347' is out of range; 0.5 to 60; check the unit"),
        (wide(mouth=("59.62", *MOUTH[1:])), "'59.62' is far from D8's 6.010 mm"),
        (
            f"hub_spaces\nhub,gauged_on,space,end,width_mm\nH2,{DAY},1,middle,5.96\n",
            "is not known here; mouth, nut-face",
        ),
        ("hub_spaces\nhub,gauged_on,space,end,width_mm\nH2,03/04/2026,1,mouth,5.96\n", "gauged_on"),
    ],
)
def test_what_cannot_be_is_kept_out_with_what_is_allowed(store: Store, text: str, said: str) -> None:
    problems = added(store, text)
    assert any(said in problem for problem in problems), problems


def test_a_file_without_ends_is_refused_with_a_right_line(store: Store) -> None:
    from wearstats.errors import InputError

    with pytest.raises(InputError, match=r"end, width_mm"):
        add_files(store, [], text=f"hub_spaces\nhub,gauged_on,space\nH2,{DAY},1\n", added_on=LATE)


def test_the_newest_gauging_wins_over_the_stated_width_and_the_older(store: Store) -> None:
    store.execute("update hubs set space_width_mm = 5.999, space_u_um = 2 where hub = 'H2'")
    assert hub(store)["space_width_mm"] == 5.999
    added(store, wide(day="2025-12-01", mouth=("5.950",) * 8, nut_face=("5.950",) * 8))
    added(store, wide())
    assert hub(store)["space_width_mm"] == pytest.approx(5.9598125, abs=1e-9)
    then = "select space_width_mm from known_gauged_hubs(date '2025-12-03') where hub = 'H2'"
    # known only since it was added
    assert store.value(then) == 5.999 or store.value(then) is None


def test_a_gauging_tells_of_the_hub_until_it_goes_on_a_shaft(store: Store) -> None:
    # H2 went on S1 on 2026-03-25
    added(store, wide())
    assert hub(store)["gauged_as_is"] is False
    wider = ("5.975",) * 8
    added(store, wide(day="2026-06-01", mouth=wider, nut_face=wider))
    found = hub(store)
    assert found["gauged_as_is"] is True
    assert (found["space_width_mm"], found["made_width_mm"]) == pytest.approx((5.975, 5.9598125), abs=1e-9)
    fitted = store.value("select space_width_mm from known_fitted_hubs($day) where fitting = 'F2'", {"day": LATE})
    assert fitted == pytest.approx(5.9598125, abs=1e-9)


def test_of_two_fittings_each_has_the_gauging_before_it(store: Store) -> None:
    added(store, wide("H1", nut_face=("5.955",) * 8, mouth=("5.955",) * 8))
    wider = ("5.972",) * 8
    added(store, wide("H1", "2026-02-20", mouth=wider, nut_face=wider))
    added(store, "fittings\nfitting,shaft,hub,fitted_on,method\nF9,S1,H1,2026-09-01,owner-fitted\n")
    rows = store.rows(
        "select fitting, round(space_width_mm, 4) from known_fitted_hubs($day) where hub = 'H1' order by 1",
        {"day": LATE},
    )
    assert rows == [("F1", 5.955), ("F9", 5.972)]


def test_of_a_month_a_gauging_within_it_tells_of_neither_side(store: Store) -> None:
    store.execute(
        "update fittings set fitted_on = '2026-03', fitted_from = date '2026-03-01', fitted_to = date '2026-03-31' "
        "where fitting = 'F2'"
    )
    added(store, wide(day="2026-03-15"))
    found = hub(store)
    assert found["gauged_as_is"] is False
    assert found["made_width_mm"] != found["made_width_mm"]


def test_places_that_stand_out_are_kept_and_told(store: Store) -> None:
    report = add_files(store, [], text=wide(mouth=("5.932", *MOUTH[1:])), added_on=LATE)
    assert report.kept_out == 0
    assert any(
        "hub H2 gauged on 2025-12-05, space 1, mouth" in note and "5.932 mm, where the 8" in note
        for note in report.notes
    )
    report = add_files(store, [], text=wide("H1", mouth=("6.005",) * 8, nut_face=("5.955",) * 8), added_on=LATE)
    assert any("about 6.005 mm at its mouth and 5.955 mm at its nut face" in note for note in report.notes)


def test_a_mean_far_from_its_size_is_kept_and_told(store: Store) -> None:
    far = ("5.910",) * 8
    report = add_files(store, [], text=wide(mouth=far, nut_face=far), added_on=LATE)
    assert report.kept_out == 0
    assert any("gauged 5.910 mm, where D8 less 50 µm leaves 5.960 mm" in note for note in report.notes)


def test_a_hub_and_a_gauge_that_nobody_knows_are_told(store: Store) -> None:
    added(store, wide("H9", gauge="G9"))
    found = {finding.found for finding in run_checks(store, as_of=LATE, checks=("orphans",))}
    assert found == {
        "names hub H9, which has no row of its own",
        "names gauge G9, which has no row of its own",
    }


def test_every_question_reads_the_gauging_that_held_then(store: Store) -> None:
    store.execute("update hubs set space_width_mm = 5.999, space_u_um = 2 where hub = 'H2'")
    added(store, wide())
    worn = ("5.975",) * 8
    added(store, wide(day="2026-06-01", mouth=worn, nut_face=worn))
    made, asked = pytest.approx(5.9598125, abs=1e-9), {"as_of": LATE}

    def width(name: str, **params: object) -> float:
        rows = store.query(name, **asked, **params)
        return float(dict(zip(rows["hub"], rows["space_width_mm"], strict=True))["H2"])

    # as made: what came off the machine, and what went on a shaft in March
    assert width("stock/gauged_hubs", pattern="D8") == made
    assert width("review/hubs") == made
    assert width("fittings/choices", pattern=None, shafts=None) == made
    # as it is now: the hub of a fitting sheet
    assert width("forms/hubs", hub="H2") == pytest.approx(5.975)
    assert not store.query("forms/hubs", **asked, hub="H2")["gauged_before"].item()
    # it is on a shaft, so not on the shelf; and there again once it came back
    assert store.query("shaft/shelf", **asked, pattern="D8").empty
    added(store, "returns\nhub,returned_on,reason,back_on_shelf\nH2,2026-05-20,not-needed,yes\n")
    assert width("shaft/shelf", pattern="D8") == pytest.approx(5.975)


def test_a_gauging_from_before_a_shaft_tells_a_sheet_for_another_nothing(store: Store) -> None:
    added(store, wide())
    (row,) = store.query("forms/hubs", as_of=LATE, hub="H2").to_dict("records")
    assert (row["gauged_before"], row["last_on"]) == (True, "S1")


def test_a_day_to_come_back_by_is_not_before_the_day_of_sending(store: Store) -> None:
    (problem,) = added(store, "dispatches\nhub,sent_on,back_by\nH2,2026-04-10,2026-04-09\n")
    assert "'2026-04-09', where sent_on is '2026-04-10'; a day from 2026-04-10" in problem
