"""The shelf by number, loans and counts, of a small shop counted by hand."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from tests.store.support.small_store import PATTERN, Rows, make_store
from wearstats.errors import AnalysisError
from wearstats.report.answers import full_sentences, short_answers, wording
from wearstats.store.database.connection import open_store
from wearstats.studies.shelf.remarks import ShelfVerdict
from wearstats.studies.shelf.study import ShelfStudy, study_shelf
from wearstats.studies.snapshot import Snapshot

DAY = datetime.date(2026, 9, 30)


def hub(name: str, undersize: str = "50", batch: str | None = "B1") -> dict[str, str | None]:
    return {"hub": name, "pattern": "D8", "undersize_um": undersize, "batch": batch}


def spaces(name: str, day: str, width: str = "5.960") -> list[dict[str, str | None]]:
    return [
        {"hub": name, "gauged_on": day, "space": str(at), "end": end, "width_mm": width, "gauge": "G1"}
        for at in range(1, 9)
        for end in ("mouth", "nut-face")
    ]


def sent(name: str, day: str, shaft: str = "S1", back_by: str | None = None) -> dict[str, str | None]:
    return {"hub": name, "sent_on": day, "shaft": shaft, "back_by": back_by}


def back(name: str, day: str, reason: str, shelf: str | None = "yes") -> dict[str, str | None]:
    return {"hub": name, "returned_on": day, "reason": reason, "back_on_shelf": shelf}


def fitted(name: str, day: str, shaft: str = "S1") -> dict[str, str | None]:
    return {"fitting": f"F-{name}", "shaft": shaft, "hub": name, "fitted_on": day, "method": "owner-fitted"}


def count(on_hand: str) -> dict[str, str | None]:
    return {"pattern": "D8", "undersize_um": "50", "counted_on": "2026-03-31", "on_hand": on_hand}


def shop(**tables: list[dict[str, str | None]]) -> Rows:
    """Give a shop with a batch of ten of which four have a number, two of them gauged by space."""
    return {
        "patterns": [dict(PATTERN)],
        "gauges": [{"gauge": "G1", "kind": "micrometer-blade", "unit": "mm", "resolution": "0.001"}],
        "shafts": [{"shaft": "S1", "pattern": "D8", "owner": "C-41"}, {"shaft": "S2", "pattern": "D8"}],
        "batches": [{"batch": "B1", "pattern": "D8", "undersize_um": "50", "made_on": "2026-01-10", "quantity": "10"}],
        "hubs": [hub("H1"), hub("H2"), hub("H3"), hub("H4", "75", None)],
        "hub_spaces": spaces("H1", "2026-02-01") + spaces("H4", "2026-02-01", "5.935"),
        **tables,
    }


def ask(path: Path, rows: Rows, day: datetime.date = DAY) -> ShelfStudy:
    with open_store(make_store(path / "shelf.duckdb", rows)) as store:
        return study_shelf(Snapshot(store=store, known_on=day))


def states(study: ShelfStudy) -> dict[str, str]:
    return dict(zip(study.hubs["hub"], study.hubs["state"], strict=True))


def short(study: ShelfStudy) -> str:
    (answer,) = short_answers("shelf", study)
    assert len(answer.lines()) <= 14
    assert all(len(line) <= 80 for line in answer.lines())
    assert len(answer.verdict.split()) <= 15
    assert len(" ".join(answer.lines()).split()) <= 160
    return "\n".join(answer.lines())


def test_hubs_that_never_left_are_there_with_the_size_that_was_gauged(tmp_path: Path) -> None:
    study = ask(tmp_path, shop())
    assert states(study) == dict.fromkeys(("H1", "H2", "H3", "H4"), "there")
    widths = dict(zip(study.hubs["hub"], study.hubs["space_width_mm"], strict=True))
    assert (widths["H1"], widths["H4"]) == pytest.approx((5.960, 5.935))
    assert widths["H2"] != widths["H2"]
    assert study.verdict.code == ShelfVerdict.IN_ORDER
    assert "4 hubs by number there" in " ".join(short(study).split())
    assert "\n  Nothing to do.\n" in short(study)


def test_of_two_sizes_sent_the_other_is_asked_for_when_it_is_late(tmp_path: Path) -> None:
    two = [sent("H1", "2026-06-01", back_by="2026-08-01"), sent("H4", "2026-06-01", back_by="2026-08-01")]
    study = ask(tmp_path, shop(dispatches=two, fittings=[fitted("H1", "2026-06-20")]))
    (loan,) = study.loans.to_dict("records")
    assert (loan["hubs"], loan["to_come"], loan["owner"], loan["overdue_days"]) == (("H4",), 1, "C-41", 60)
    assert states(study) == {"H2": "there", "H3": "there"}
    assert short(study).startswith("WHAT IS ON THE SHELF?  Ask C-41 (shaft S1) for hub H4: due 2026-08-01, 60 days")
    assert short(study).splitlines()[2].strip().startswith("When it is back: look it over")
    assert study.sizes.set_index("undersize_um").at[75.0, "on_loan"] == 1


def test_until_one_is_fitted_either_may_come_back(tmp_path: Path) -> None:
    two = [sent("H1", "2026-09-01", back_by="2026-11-01"), sent("H4", "2026-09-01")]
    study = ask(tmp_path, shop(dispatches=two))
    (loan,) = study.loans.to_dict("records")
    assert (loan["hubs"], loan["to_come"], loan["overdue_days"]) == (("H1", "H4"), 1, 0)
    assert study.verdict.code == ShelfVerdict.DUE_NEXT
    assert "next is hub H1 or H4 from C-41 (shaft S1), by 2026-11-01" in " ".join(short(study).split())
    assert any("hub H1 or H4 (1 of these), sent 2026-09-01" in line for line in full_sentences("shelf", study))


def test_when_one_has_come_back_the_other_stays(tmp_path: Path) -> None:
    two = [sent("H1", "2026-06-01", back_by="2026-08-01"), sent("H4", "2026-06-01", back_by="2026-08-01")]
    study = ask(tmp_path, shop(dispatches=two, returns=[back("H4", "2026-07-20", "second-size-back")]))
    assert study.loans.empty
    assert states(study)["H4"] == "there"


def test_a_second_size_without_a_day_is_named_too(tmp_path: Path) -> None:
    two = [sent("H1", "2026-06-01", "S2"), sent("H4", "2026-06-01", "S2")]
    study = ask(tmp_path, shop(dispatches=two, fittings=[fitted("H1", "2026-06-20", "S2")]))
    assert study.verdict.code == ShelfVerdict.UNDATED
    assert "Ask the owner of shaft S2 for hub H4: sent 2026-06-01" in short(study)


def test_overdue_loans_stand_first_and_are_all_counted(tmp_path: Path) -> None:
    lent = [
        sent("H1", "2026-05-01", back_by="2026-09-01"),
        sent("H2", "2026-05-02", "S2", back_by="2026-07-01"),
        sent("H3", "2026-05-03", back_by="2026-12-01"),
    ]
    study = ask(tmp_path, shop(dispatches=lent))
    assert [hubs[0] for hubs in study.loans["hubs"]] == ["H2", "H1", "H3"]
    assert "Then ask for hub H1 from C-41 (shaft S1)." in " ".join(short(study).split())


def test_what_came_back_from_a_shaft_is_gauged_before_it_is_sent(tmp_path: Path) -> None:
    gone = {"dispatches": [sent("H1", "2026-03-01")], "fittings": [fitted("H1", "2026-03-10")]}
    came = [back("H1", "2026-05-01", "not-needed")]
    study = ask(tmp_path, shop(**gone, returns=came))
    assert states(study)["H1"] == "to-gauge"
    assert "Gauge hub H1 before it is sent again" in short(study)
    again = shop(**gone, returns=came)
    rows = {**again, "hub_spaces": [*again["hub_spaces"], *spaces("H1", "2026-05-03", "5.972")]}
    (tmp_path / "again").mkdir()
    study = ask(tmp_path / "again", rows)
    assert states(study)["H1"] == "there"
    assert study.hubs.set_index("hub").at["H1", "space_width_mm"] == pytest.approx(5.972)


def test_what_was_filed_in_vain_since_it_was_gauged_is_gauged_again(tmp_path: Path) -> None:
    tried = fitted("H1", "2026-03-10") | {"went_on": "would-not", "filing_min": "30"}
    rows = shop(
        dispatches=[sent("H1", "2026-03-01")],
        fittings=[tried],
        returns=[back("H1", "2026-05-01", "would-not-go-on")],
    )
    path = make_store(tmp_path / "shelf.duckdb", rows)
    with open_store(path) as store:
        snapshot = Snapshot(store=store, known_on=DAY)
        assert states(study_shelf(snapshot))["H1"] == "to-gauge"
        assert snapshot.query("shaft/shelf", pattern="D8")["hub"].tolist() == ["H4"]


@pytest.mark.parametrize("reason", ["worked-loose", "cracked", "filed-too-far", "post-damage"])
def test_what_came_back_spoiled_is_not_sent_again_even_if_gauged(tmp_path: Path, reason: str) -> None:
    rows = shop(dispatches=[sent("H1", "2026-03-01")], returns=[back("H1", "2026-05-01", reason)])
    study = ask(tmp_path, {**rows, "hub_spaces": [*rows["hub_spaces"], *spaces("H1", "2026-05-03")]})
    assert states(study)["H1"] == "not-again"
    assert "1 hub came back or is withdrawn: not to be sent." in short(study)


def test_the_shelf_of_the_advice_is_the_same_shelf(tmp_path: Path) -> None:
    path = make_store(
        tmp_path / "shelf.duckdb",
        shop(
            dispatches=[sent("H1", "2026-03-01"), sent("H2", "2026-03-01", "S2")],
            returns=[back("H1", "2026-05-01", "would-not-go-on")],
        ),
    )
    with open_store(path) as store:
        snapshot = Snapshot(store=store, known_on=DAY)
        offered = set(snapshot.query("shaft/shelf", pattern="D8")["hub"])
        hubs = study_shelf(snapshot).hubs
    assert offered == set(hubs.loc[(hubs["state"] == "there") & hubs["space_width_mm"].notna(), "hub"]) == {"H1", "H4"}


@pytest.mark.parametrize(
    ("counted", "differ", "look_for"), [("2", -1, ("H1", "H2", "H3")), ("3", 0, ()), ("10", 0, ()), ("12", 2, ())]
)
def test_a_count_is_held_against_numbers_and_what_was_made(
    tmp_path: Path, counted: str, differ: int, look_for: tuple[str, ...]
) -> None:
    # ten were made, three of them have a number: three to ten may lie there
    count: dict[str, str | None] = {
        "pattern": "D8",
        "undersize_um": "50",
        "counted_on": "2026-03-31",
        "on_hand": counted,
    }
    study = ask(tmp_path, shop(stock_counts=[count]))
    rows = study.disagreements.to_dict("records")
    assert [(row["differ"], row["look_for"]) for row in rows] == ([(differ, look_for)] if differ else [])
    if differ < 0:
        assert "Count D8 0.05 again: 1 fewer than lie there by number" in " ".join(short(study).split())
        assert "look for H1, H2, H3" in " ".join(short(study).split())


def test_more_than_can_be_there_is_looked_for_among_those_without_word(tmp_path: Path) -> None:
    study = ask(tmp_path, shop(dispatches=[sent("H2", "2026-03-01")], stock_counts=[count("10")]))
    assert study.disagreements["look_for"].tolist() == [("H2",)]
    assert "look for H2, sent and never heard of" in " ".join(short(study).split())


def test_without_a_hub_by_number_it_says_what_would_tell(tmp_path: Path) -> None:
    with pytest.raises(AnalysisError, match="no hub was on record by number on 2026-09-30"):
        ask(tmp_path, {"patterns": [dict(PATTERN)]})


def test_the_past_is_answered_as_it_was(tmp_path: Path) -> None:
    rows = shop(dispatches=[sent("H1", "2026-06-01", back_by="2026-08-01")])
    study = ask(tmp_path, rows, datetime.date(2026, 5, 31))
    assert states(study)["H1"] == "there"
    assert study.loans.empty


def test_in_full_every_hub_that_is_not_out_has_a_row(tmp_path: Path) -> None:
    study = ask(tmp_path, shop(dispatches=[sent("H3", "2026-03-01")]))
    sizes, hubs = wording("shelf").tables(study)
    assert [row[0] for row in hubs.rows] == ["H1", "H2", "H4"]
    assert hubs.rows[0][2:4] == ("5.9600", "1.0")
    assert [row[0] for row in sizes.rows] == ["D8 0.05", "D8 0.075"]
