"""How the answer to each question is said: in short, and in full; nothing here draws."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from wearstats.report.calls.answer import calls_answer
from wearstats.report.calls.batch import batch_answer, batch_sentences, batch_table
from wearstats.report.calls.sentences import calls_sentences
from wearstats.report.calls.table import calls_tables
from wearstats.report.contact.answer import contact_answers
from wearstats.report.contact.sentences import contact_sentences, fitting_seen_sentence
from wearstats.report.contact.table import contact_table
from wearstats.report.gauging.answer import gauging_answer
from wearstats.report.gauging.sentences import gauging_sentences
from wearstats.report.limits.answer import limits_answers, limits_sentences
from wearstats.report.loosening.answer import loosening_answer
from wearstats.report.loosening.sentences import loosening_sentences
from wearstats.report.loosening.tables import near_table
from wearstats.report.methods.answer import methods_answer
from wearstats.report.methods.sentences import methods_sentences
from wearstats.report.rendering.short_answer import SURE, ShortAnswer
from wearstats.report.review.answer import review_answer
from wearstats.report.review.returns_answer import returns_answer
from wearstats.report.review.returns_sentences import returns_sentences
from wearstats.report.review.sentences import review_sentences
from wearstats.report.review.tables import review_tables
from wearstats.report.shaft.all_shafts import all_shafts_answer, all_shafts_table
from wearstats.report.shaft.answer import shaft_answer
from wearstats.report.shaft.sentences import shaft_sentences
from wearstats.report.shaft.tables import choices_table, map_table
from wearstats.report.stock.answer import stock_answers
from wearstats.report.stock.plans_table import plans_table
from wearstats.report.stock.production_table import make_now_table
from wearstats.report.stock.sentences import stock_sentences
from wearstats.report.wear.answer import wear_answer
from wearstats.report.wear.sentences import wear_sentences
from wearstats.report.words.cautions import CAUTIONS

if TYPE_CHECKING:
    from wearstats.report.rendering.tables import DataTable
    from wearstats.studies.gaps.contact import ContactStudy
    from wearstats.studies.loosening.study import LooseningStudy
    from wearstats.studies.shaft.answer import ShaftStudy
    from wearstats.studies.stock.answer import StockStudy


@dataclass(frozen=True, slots=True, kw_only=True)
class Wording:
    """How the answers to a question are said.

    Parameters
    ----------
    heading : str
        The question in words.
    short : callable
        Of a result: what is said unless all is asked for; several where it is about several patterns.
    sentences : callable
        Of a result: everything, in words.
    tables : callable
        Of a result: the tables that go with these.
    cautions : tuple of str
        What to beware of, where the answer is an advice.
    """

    heading: str
    short: Callable[[Any], Iterable[ShortAnswer]]
    sentences: Callable[[Any], Iterable[str]]
    tables: Callable[[Any], Iterable[DataTable]] = lambda _: ()
    cautions: tuple[str, ...] = ()


def _alone(short: Callable[[Any], ShortAnswer]) -> Callable[[Any], tuple[ShortAnswer]]:
    return lambda result: (short(result),)


def _shaft_tables(study: ShaftStudy) -> list[DataTable]:
    return [*([choices_table(study)] if study.choices else []), map_table(study)]


def _stock_tables(study: StockStudy) -> list[DataTable]:
    parts = study.by_pattern.values()
    return [*map(plans_table, parts), *(make_now_table(part.make) for part in parts if part.make)]


def _loosening_tables(study: LooseningStudy) -> list[DataTable]:
    return [near_table(study.gap, study.horizon_months)] if study.gap else []


def _contact_lines(study: ContactStudy) -> list[str]:
    if study.seen is None:
        return [*(fitting_seen_sentence(one) for one in study.singly()), SURE]
    return contact_sentences(study.seen)


def _contact_tables(study: ContactStudy) -> list[DataTable]:
    return [] if study.seen is None else [contact_table(study.seen)]


WORDING: Final[dict[str, Wording]] = {
    "wear": Wording(
        heading="How worn are the shafts?",
        short=_alone(wear_answer),
        sentences=wear_sentences,
    ),
    "gauging": Wording(
        heading="How far can the measurements be trusted?",
        short=_alone(gauging_answer),
        sentences=gauging_sentences,
    ),
    "shaft": Wording(
        heading="Which hub for this shaft?",
        short=_alone(shaft_answer),
        sentences=shaft_sentences,
        tables=_shaft_tables,
        cautions=CAUTIONS,
    ),
    "shafts": Wording(
        heading="Which hubs for all shafts?",
        short=_alone(all_shafts_answer),
        sentences=lambda study: [all_shafts_answer(study).headline[1]],
        tables=lambda study: [all_shafts_table(study)],
        cautions=CAUTIONS,
    ),
    "loosening": Wording(
        heading="Do hubs stay tight?",
        short=_alone(loosening_answer),
        sentences=loosening_sentences,
        tables=_loosening_tables,
    ),
    "methods": Wording(
        heading="Do hubs as supplied fail more?",
        short=_alone(methods_answer),
        sentences=methods_sentences,
    ),
    "stock": Wording(
        heading="Which sizes should be stocked?",
        short=stock_answers,
        sentences=stock_sentences,
        tables=_stock_tables,
        cautions=CAUTIONS,
    ),
    "limits": Wording(
        heading="What do limits and fits give?",
        short=limits_answers,
        sentences=limits_sentences,
    ),
    "review": Wording(
        heading="What does the review say?",
        short=_alone(review_answer),
        sentences=review_sentences,
        tables=review_tables,
        cautions=CAUTIONS,
    ),
    "calls": Wording(
        heading="Whom to call?",
        short=_alone(calls_answer),
        sentences=calls_sentences,
        tables=calls_tables,
        cautions=CAUTIONS,
    ),
    "batch": Wording(
        heading="Who has hubs of this batch?",
        short=_alone(batch_answer),
        sentences=batch_sentences,
        tables=lambda study: [batch_table(study)],
        cautions=CAUTIONS,
    ),
    "contact": Wording(
        heading="Did hubs bear where that was predicted?",
        short=contact_answers,
        sentences=_contact_lines,
        tables=_contact_tables,
    ),
    "returns": Wording(
        heading="What came back, and why?",
        short=_alone(returns_answer),
        sentences=returns_sentences,
    ),
}
"""By question."""


def short_answers(question: str, result: Any) -> tuple[ShortAnswer, ...]:
    """Say an answer in short: one, or one a pattern.

    Parameters
    ----------
    question : str
        The question's noun.
    result : Any
        What its study gave.
    """
    return tuple(WORDING[question].short(result))


def full_sentences(question: str, result: Any) -> list[str]:
    """Say everything in words: question and verdict, then each sentence that does not repeat the verdict.

    Parameters
    ----------
    question : str
        The question's noun.
    result : Any
        What its study gave.
    """
    heads = [short.headline for short in short_answers(question, result)]
    verdicts = {verdict for _, verdict in heads}
    told = [sentence for sentence in WORDING[question].sentences(result) if sentence not in verdicts]
    # of one shaft or size list alone the first sentence is the verdict, with its subject
    if len(told) and any(verdict.rstrip(".").lower() in told[0].lower() for verdict in verdicts):
        return told
    return [*("  ".join(head) for head in heads), *told]
