"""The methods in pictures, each with its table, and how many worked loose by what was sent and done."""

from __future__ import annotations

import pandas as pd

from wearstats.report.methods.charts import QUESTIONS, chances_chart, differences_chart, evidence_chart
from wearstats.report.methods.dots_chart import dots_chart
from wearstats.report.page.model import Figure, make_figure
from wearstats.report.remarks.frames import in_words
from wearstats.report.rendering.tables import DataTable, table_of
from wearstats.report.rendering.theme import NARROW, WIDE
from wearstats.report.words.phrases import in_hundred, months, sure_fewer
from wearstats.studies.methods.answer import MethodsStudy

_WORDS = {
    "mean_um": "mean width read",
    "tightest_um": "widest place read",
    "hollow_um": "hollow read",
    "uneven_um": "splines unlike",
    "workshop": "measured in the workshop",
    "later_hub": "a hub had run before",
}


def method_figures(study: MethodsStudy) -> list[Figure]:
    """Draw the comparisons, the evidence by quarter, and how far both methods were in use on like shafts."""
    figures = [] if (dots := _dots(study)) is None else [dots]
    differences = study.differences_frame()
    if differences["difference"].notna().any():
        wide, narrow = (
            differences_chart(differences, horizon_months=study.horizon_months, width=width) for width in (WIDE, NARROW)
        )
        figures.append(make_figure("methods-apart", wide=wide, narrow=narrow, table=differences_table(study)))
    quarters = study.evidence_frame()
    if len(quarters):
        wide, narrow = (evidence_chart(quarters, width=width) for width in (WIDE, NARROW))
        figures.append(make_figure("methods-evidence", wide=wide, narrow=narrow, table=evidence_table(study)))
    chances = study.chances_frame()
    if len(chances):
        wide, narrow = (chances_chart(chances, width=width) for width in (WIDE, NARROW))
        figures.append(make_figure("methods-overlap", wide=wide, narrow=narrow, table=balance_table(study)))
    return figures


def _dots(study: MethodsStudy) -> Figure | None:
    """Draw a hundred hubs of each way on like shafts, where both shares are known."""
    like = study.like_shafts
    if like is None or like.first_risk.value is None or like.second_risk.value is None:
        return None
    supplied, hand = like.first_risk.value, like.second_risk.value
    more, sure = sure_fewer(like.difference)
    wide, narrow = (
        dots_chart(supplied, hand, sure=f"{more}{sure}", horizon_months=study.horizon_months, width=width)
        for width in (WIDE, NARROW)
    )
    rows = [("as supplied", like.first_risk), ("fitted by hand", like.second_risk)]
    table = DataTable(
        caption=f"Of 100 hubs on like shafts, loose within {months(study.horizon_months)}",
        head=("sent", "loose, in 100", "95 % sure, in 100"),
        rows=tuple(
            (way, in_hundred(risk.value or 0.0), f"{in_hundred(risk.low or 0.0)} to {in_hundred(risk.high or 1.0)}")
            for way, risk in rows
        ),
    )
    return make_figure("hundred-hubs", wide=wide, narrow=narrow, table=table)


def methods_table(study: MethodsStudy) -> DataTable:
    """Print a row a method, by what was sent and by what was done."""
    table = study.methods_frame()
    rows = pd.DataFrame(
        {
            "by": table["by"],
            "method": table["method"],
            "fittings": table["fittings"].astype(int),
            "failures": table["failures"].astype(int),
            "hub_months": [f"{number:.0f}" for number in table["hub_months"]],
            "risk": [in_hundred(share) if pd.notna(share) else "" for share in table["risk"]],
            "range": [
                f"{in_hundred(low)} to {in_hundred(high)}" if pd.notna(low) and pd.notna(high) else ""
                for low, high in zip(table["low"], table["high"], strict=True)
            ],
        }
    )
    heads = ("by what was", "method", "hubs fitted", "failed", "months followed, all hubs", "loose, in 100")
    return table_of(
        rows,
        caption=f"Worked loose within {months(study.horizon_months)}",
        columns=dict(zip(rows.columns, (*heads, "95 % sure, in 100"), strict=True)),
    )


def differences_table(study: MethodsStudy) -> DataTable:
    """Print a row a comparison."""
    frame = in_words(study.differences_frame())
    rows = pd.DataFrame(
        {
            "compared": frame["question"].map(QUESTIONS),
            "more": [_more(value) if pd.notna(value) else "not told" for value in frame["difference"]],
            "range": [
                f"{_more(low)} to {_more(high)}" if pd.notna(low) and pd.notna(high) else why
                for low, high, why in zip(frame["low"], frame["high"], frame["why"], strict=True)
            ],
        }
    )
    heads = {"compared": "compared", "more": "more loose as supplied, of 100", "range": "95 % sure"}
    return table_of(rows, caption="As supplied less fitted by hand", columns=heads)


def evidence_table(study: MethodsStudy) -> DataTable:
    """Print a row a quarter."""
    frame = study.evidence_frame()
    rows = pd.DataFrame(
        {
            "quarter": frame["quarter"],
            "supplied": [f"{a} of {b}" for a, b in zip(frame["supplied_failed"], frame["supplied"], strict=True)],
            "hand": [f"{a} of {b}" for a, b in zip(frame["hand_failed"], frame["hand"], strict=True)],
            "range": [f"{_more(low)} to {_more(high)}" for low, high in zip(frame["low"], frame["high"], strict=True)],
        }
    )
    heads = {
        "quarter": "by the end of",
        "supplied": "as supplied, known loose",
        "hand": "by hand, known loose",
        "range": "not ruled out, more of 100",
    }
    return table_of(rows, caption="The evidence by quarter", columns=heads)


def balance_table(study: MethodsStudy) -> DataTable:
    """Print a row a thing in which the shafts were made alike, and what the weights are."""
    like = study.like_shafts
    balance = pd.DataFrame(columns=["covariate", "before", "after"]) if like is None else like.balance
    rows = pd.DataFrame(
        {
            "covariate": [_WORDS.get(name, name) for name in balance["covariate"]],
            "before": [_apart(value) for value in balance["before"]],
            "after": [_apart(value) for value in balance["after"]],
        }
    )
    caption = "How far the groups lie apart, in standard deviations"
    if like is not None:
        numbers = [f"{number:.0f}" for number in like.effective]
        largest = like.weight.max()
        caption += f" (weights up to {largest:.1f}; worth {numbers[0]} hubs as supplied and {numbers[1]} by hand)"
    heads = {"covariate": "alike in", "before": "as sent", "after": "weighed"}
    return table_of(rows, caption=caption, columns=heads)


def _apart(deviations: float) -> str:
    text = f"{deviations:+.2f}"
    return "0.00" if text in {"+0.00", "-0.00"} else text.replace("-", "\u2212")


def _more(share: float) -> str:
    """Say a difference of shares as a signed number in a hundred."""
    text = f"{100 * share:+.1f}"
    return "0.0" if text in {"+0.0", "-0.0"} else text.replace("-", "\u2212")
