"""What came back, in words."""

from __future__ import annotations

from wearstats.report.remarks.say import say
from wearstats.report.words.phrases import count, in_hundred, joined, sentence
from wearstats.studies.counts.returns import ReturnsStudy

REASON_WORDS = {
    "would-not-go-on": "would not go on",
    "slack-on-trial": "slack when tried on",
    "worked-loose": "worked loose",
    "cracked": "cracked",
    "filed-too-far": "filed too far",
    "register-misfit": "the register did not fit",
    "wrong-pattern": "wrong pattern ordered",
    "sent-wrong": "the wrong hub was sent",
    "second-size-back": "second size of two, not used",
    "not-needed": "no longer needed",
    "post-damage": "damaged in the post",
    "other": "other reasons",
}


def returns_sentences(study: ReturnsStudy) -> list[str]:
    """Say how many hubs came back, out of how many, and what for."""
    if study.returned == 0:
        return [sentence(f"Of {count(int(study.sent.sum()), 'hub')} sent none has come back")]
    sent = int(study.sent.sum())
    share = f", {in_hundred(study.returned / sent)} in 100 sent" if sent >= study.returned else ""
    span = f"From {study.quarters[0]} to {study.quarters[-1]},"
    lines = [sentence(f"{span} {count(study.returned, 'hub')} came back{share}")]
    totals = study.counts.sum(axis=0)
    reasons = [
        f"{REASON_WORDS.get(reason, reason)} ({int(total)})"
        for reason, total in zip(study.reasons[:3], totals, strict=False)
    ]
    lines.append(sentence(f"The commonest reasons: {joined(reasons)}"))
    if study.trials is not None:
        lines.append(sentence(say(study.trials.verdict)))
    return lines
