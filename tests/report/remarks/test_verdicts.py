"""Every verdict in words: short enough to be read at a glance, and never more than its numbers."""

from __future__ import annotations

from enum import StrEnum
from typing import Any

import pytest

from wearstats.analysis.remark import Remark, remark
from wearstats.report.remarks.say import say
from wearstats.studies.gaps.remarks import ContactVerdict, FittingVerdict
from wearstats.studies.gauging.remarks import GaugingVerdict
from wearstats.studies.loosening.remarks import LooseningVerdict
from wearstats.studies.methods.remarks import MethodsNext, MethodsVerdict
from wearstats.studies.wear.remarks import WearVerdict

MOST_WORDS = 15
YEAR, HALF = {"months": 12.0}, {"months": 6.0}
RISK: dict[str, Any] = {"risk": 0.11, "low": 0.081, "high": 0.16}
WORN: dict[str, Any] = {"mean_um": 31.0, "low_um": 28.0, "high_um": 35.0}
SIZE: dict[str, Any] = {"right": 0.862, "instead": 0.771}

SAID: list[tuple[StrEnum, dict[str, Any], str]] = [
    (MethodsVerdict.MORE, {"apart": 0.11, "strict": False, **YEAR}, "on like shafts yes: 11 more in 100 a year"),
    (MethodsVerdict.MORE, {"apart": 0.11, "strict": True, **HALF},
     "yes: 11 more in 100 in 6 months on like shafts; the strict test agrees"),
    (MethodsVerdict.FEWER, {"apart": -0.05, "strict": False, **HALF}, "on like shafts no: 5 fewer in 100 in 6 months"),
    (MethodsVerdict.AS_SENT_ONLY, {"more": True, "apart": 0.08, "like_told": True, **HALF},
     "as sent yes, 8 more in 100 in 6 months; on like shafts not settled"),
    (MethodsVerdict.AS_SENT_ONLY, {"more": False, "apart": None, "like_told": False, **YEAR},
     "as sent no; on like shafts cannot be told"),
    (MethodsVerdict.AT_ODDS, YEAR, "not settled: as sent and on like shafts they point opposite ways"),
    (MethodsVerdict.ALIKE, {"bound": 0.042, "like_told": True, **HALF},
     "on like shafts none seen: over 4.2 in 100 in 6 months is ruled out"),
    (MethodsVerdict.OPEN, {"low": -0.13, "high": 0.23, **YEAR}, "not settled: 13 fewer to 23 more in 100 a year"),
    (MethodsVerdict.UNTOLD, HALF, "cannot be told: too few hubs of both ways followed 6 months"),
    (LooseningVerdict.UP_TO, {"gap_um": 7.2, "low_um": 0.0, "high_um": 15.0, "limit": 0.05, **HALF},
     "under 5 in 100 in 6 months: gaps up to 7.2 µm (0 to 15)"),
    (LooseningVerdict.UP_TO, {"gap_um": 7.2, "low_um": 2.0, "high_um": None, "limit": 0.05, **YEAR},
     "under 5 in 100 a year: gaps up to 7.2 µm (2 or more)"),
    (LooseningVerdict.AT_EVERY_GAP, {"sure_um": 12.0, "limit": 0.05, **YEAR},
     "under 5 in 100 a year at every gap, surely up to 12 µm"),
    (LooseningVerdict.AT_EVERY_GAP, {"sure_um": 0.0, "limit": 0.05, **HALF},
     "under 5 in 100 in 6 months at every gap, surely at none"),
    (LooseningVerdict.OVER_AT_ANY, {"limit": 0.05, **YEAR}, "over 5 in 100 a year at any gap"),
    (LooseningVerdict.OPEN_AT_NONE, {"limit": 0.05, **HALF},
     "not settled whether any gap keeps it under 5 in 100 in 6 months"),
    (LooseningVerdict.GAP_NOT_SHOWN, {**RISK, **HALF},
     "11 in 100 work loose in 6 months (8.1 to 16); no gap limit shows"),
    (LooseningVerdict.BACKWARDS, {**RISK, **YEAR}, "11 in 100 work loose a year (8.1 to 16); wider gaps no worse"),
    (LooseningVerdict.WITHOUT_GAP, {**RISK, "low": None, **YEAR}, "11 in 100 work loose a year; by gap unknown"),
    (LooseningVerdict.UNTOLD, {"failures": 1, **HALF}, "cannot be told: too few followed 6 months; 1 known loose"),
    (WearVerdict.WORN, {**WORN, "one_in_ten_um": 68.0}, "31 µm lost on average (28 to 35); one in ten over 68"),
    (WearVerdict.FEW_SHAFTS, {**WORN, "shafts": 12}, "31 µm lost on average (28 to 35); on 12 shafts only"),
    (WearVerdict.NOT_SHOWN, {"mean_um": 3.0, "low_um": 0.0, "high_um": 6.1},
     "3 µm lost on average (0 to 6.1); no wear shows surely"),
    (WearVerdict.WIDER_THAN_NEW, {"mean_um": -4.0, "low_um": -6.0, "high_um": -1.0},
     "no wear: 4 µm wider than new (1 to 6)"),
    (WearVerdict.UNTOLD, {"shafts": 2}, "cannot be told from 2 shafts"),
    (GaugingVerdict.CHECK_PIECE, {**SIZE, "assumed": False},
     "ask for a check piece first: right size for 86 in 100, not 77"),
    (GaugingVerdict.OTHER_HAND, {**SIZE, "assumed": True},
     "ask for another hand's inspection: right size for 86 in 100, not 77 (assumed)"),
    (GaugingVerdict.SAME_HAND, {**SIZE, "assumed": True},
     "ask for a second inspection: right size for 86 in 100, not 77 (assumed)"),
    (GaugingVerdict.READ_TWICE, {**SIZE, "assumed": True},
     "ask for each place twice: right size for 86 in 100, not 77 (assumed)"),
    (GaugingVerdict.ENOUGH, {"right": 0.862, "assumed": True},
     "one whole inspection is enough: right size for 86 in 100 (assumed)"),
    (ContactVerdict.AS_PREDICTED, {}, "yes, on average and from little contact to much"),
    (ContactVerdict.LESS_EXTREME, {}, "on average yes; little and much contact both come out less extreme"),
    (ContactVerdict.MORE_EXTREME, {}, "on average yes; little and much contact both come out more extreme"),
    (ContactVerdict.MORE_MARKED, {"apart": 0.097}, "no: 9.7 in 100 more sides marked than predicted"),
    (ContactVerdict.FEWER_MARKED, {"apart": 0.097}, "no: 9.7 in 100 fewer sides marked than predicted"),
    (ContactVerdict.SINGLY_WIDE, {"covered": 0.8}, "on average yes; of single hubs only 80 in 100 in their range"),
    (ContactVerdict.UNTOLD, {}, "cannot be told from these marks"),
    (FittingVerdict.AGREES, {}, "yes: the marks agree with the widths"),
    (FittingVerdict.WIDTHS_OPEN, {}, "cannot be told: the widths leave nearly everything open"),
    (FittingVerdict.FEWER_BUT_ENOUGH, {}, "fewer sides marked than predicted, but enough"),
    (FittingVerdict.FEWER, {}, "no: fewer sides marked than predicted"),
    (FittingVerdict.MORE, {}, "no: more sides marked than predicted"),
]  # fmt: skip


@pytest.mark.parametrize(("code", "facts", "words"), SAID)
def test_verdict_in_words(code: StrEnum, facts: dict[str, Any], words: str) -> None:
    assert say(Remark(code, facts)) == words
    assert len(words.split()) <= MOST_WORDS


def test_every_verdict_is_here() -> None:
    rooms = (MethodsVerdict, LooseningVerdict, WearVerdict, GaugingVerdict, ContactVerdict, FittingVerdict)
    assert {code for code, _, _ in SAID} == {code for room in rooms for code in room}


@pytest.mark.parametrize("code", list(MethodsNext))
def test_what_to_do_is_a_line(code: MethodsNext) -> None:
    assert 20 < len(say(remark(code))) <= 80
