"""What becomes of hubs that were sent: sent back, tried, filed, run, worn loose, taken off, replaced."""

from __future__ import annotations

import numpy as np
import pandas as pd

from wearstats.domain.arrays import FloatArray, IntArray
from wearstats.simulate.events.choice import AS_SUPPLIED, OWNER_FITTED
from wearstats.simulate.events.fitting import (
    Seat,
    days_of,
    draw_loosening,
    draw_removal,
    log_hazard,
    note,
    seat,
)
from wearstats.simulate.events.news import News, follow
from wearstats.simulate.events.progress import NO_ROW, Progress
from wearstats.simulate.events.rounds import inspect_at, renew, retry
from wearstats.simulate.events.shafts import wear_on

NOT_RETRIED = ("not-needed", "no-word")
BACK_ON_SHELF = ("not-needed", "register-misfit", "sent-wrong", "wrong-pattern", "second-size-back", "would-not-go-on")


def try_on(progress: Progress, job: pd.DataFrame, *, rng: np.random.Generator) -> None:
    """Try the hubs of one round on their shafts and follow what happens.

    Parameters
    ----------
    progress : Progress
        Ledgers and states change.
    job : DataFrame
        Hubs sent, from `rounds.send`.
    rng : numpy.random.Generator
        Source of randomness.
    """
    scenario = progress.scenario
    n = len(job)
    shaft = job["shaft"].to_numpy(dtype=np.int64)
    progress.active[shaft] = False
    sent = job["sent_day"].to_numpy(dtype=float)
    fit_day = sent + rng.integers(5, 25, size=n).astype(float)
    _measure_in_workshop(progress, shaft, sent, fit_day, rng=rng)
    job = job.assign(fit_day=fit_day, fate=_fates(progress, job, rng=rng))
    where = seat(progress.width_um[shaft], job["space_um"].to_numpy(dtype=float))
    supplied = (job["sent_as"] == AS_SUPPLIED).to_numpy()
    dealer = ~job["dispatched"].to_numpy(dtype=bool)
    open_fate = (job["fate"] == "").to_numpy()
    slack = open_fate & ~dealer & (where.clearance_um > scenario.slack_limit_um)
    stuck = open_fate & ~slack & supplied & (where.tightest_um > scenario.force_limit_um)
    refused = stuck & ~dealer & (rng.random(n) >= scenario.filed_instead_share)
    method = np.where(stuck & ~refused, OWNER_FITTED, job["sent_as"])
    spoiled = open_fate & ~slack & ~dealer & (method == OWNER_FITTED) & (where.tightest_um > 0)
    spoiled &= rng.random(n) < scenario.filed_too_far_share
    fate = job["fate"].to_numpy(dtype=object).copy()
    fate[slack], fate[refused], fate[spoiled] = "slack-on-trial", "would-not-go-on", "filed-too-far"
    job = job.assign(fate=fate, method=method)
    in_time = fit_day <= progress.end
    shown = in_time & (((fate == "would-not-go-on") & (rng.random(n) < 0.5)) | (fate == ""))
    fitted = _write_fittings(progress, job, where, shown, rng=rng)
    _send_back(progress, job[(fate != "") & in_time].reset_index(drop=True), fitted, rng=rng)
    _send_second_size(progress, job[(fate == "") & in_time & ~dealer].reset_index(drop=True), rng=rng)


def _measure_in_workshop(
    progress: Progress, shaft: IntArray, sent: FloatArray, fit_day: FloatArray, *, rng: np.random.Generator
) -> None:
    """Measure those shafts that the workshop sees after the hub was sent and before it runs."""
    day = sent + 1 + np.floor(rng.random(shaft.size) * (fit_day - sent - 1))
    there = progress.workshop_later[shaft] & (day <= progress.end)
    inspect_at(progress, shaft[there], day[there], at_home=False, rng=rng)
    progress.workshop_later[shaft] = False


def _fates(progress: Progress, job: pd.DataFrame, *, rng: np.random.Generator) -> np.ndarray:
    """Draw what happens to hubs before they are tried; empty for those that are tried."""
    shares = progress.scenario.prefit_shares
    words = np.array([word for word, _ in shares] + [""], dtype=object)
    chance = np.array([share for _, share in shares])
    fate = rng.choice(words.size, size=len(job), p=np.append(chance, 1.0 - chance.sum()))
    fate = np.where(job["dispatched"].to_numpy(dtype=bool), fate, words.size - 1)
    return np.asarray(words[fate], dtype=object)


def _send_back(progress: Progress, job: pd.DataFrame, fitted: pd.Series, *, rng: np.random.Generator) -> None:
    """Send hubs back that never ran, and let most of their shafts wait for another."""
    day = job["fit_day"].to_numpy(dtype=float) + rng.integers(3, 25, size=len(job)).astype(float)
    back = (job["fate"] != "no-word").to_numpy() & (day <= progress.end)
    fitting = fitted.reindex(job["hub"]).fillna(NO_ROW).to_numpy(dtype=np.int64)
    progress.returns.add(
        pd.DataFrame(
            {
                "hub": job["hub"],
                "day": day,
                "reason": job["fate"],
                "fitting": fitting,
                "shelf": job["fate"].isin(BACK_ON_SHELF),
            }
        )[back]
    )
    again = back & ~job["fate"].isin(NOT_RETRIED).to_numpy()
    # whoever could rock it, spoiled it or could not get it on is sent one to be fitted by hand
    by_hand = job["fate"].isin(["slack-on-trial", "would-not-go-on", "filed-too-far"]).to_numpy()
    method = np.where(by_hand, OWNER_FITTED, job["sent_as"].to_numpy(dtype=np.int64))
    retry(progress, job["shaft"].to_numpy(dtype=np.int64)[again], day[again], forced=method[again])


def _send_second_size(progress: Progress, job: pd.DataFrame, *, rng: np.random.Generator) -> None:
    """Add the second hubs of those who were sent two sizes to try, and send them back."""
    scenario = progress.scenario
    extra = job[rng.random(len(job)) < scenario.two_sent_share].reset_index(drop=True)
    shelf = progress.shelf
    pattern = extra["pattern"].to_numpy(dtype=np.int64)
    sizes = shelf.undersize_um[pattern]
    tighter = np.where(sizes > extra["undersize_um"].to_numpy(dtype=float)[:, None], sizes, np.inf)
    kept = shelf.begins[pattern] <= extra["sent_day"].to_numpy(dtype=float)[:, None]
    kept &= extra["sent_day"].to_numpy(dtype=float)[:, None] < shelf.ends[pattern]
    tighter = np.where(kept, tighter, np.inf)
    undersize = tighter.min(axis=1, initial=np.inf)
    size = tighter.argmin(axis=1) if len(extra) else np.zeros(0, dtype=np.int64)
    batch = shelf.batch_um[pattern, size, extra["half"].to_numpy(np.int64), extra["lane"].to_numpy(np.int64)]
    space = shelf.standard_um[pattern] - undersize + batch + scenario.hub_sd_um * rng.standard_normal(len(extra))
    gauged = np.round(space + scenario.gauging_sd_um * rng.standard_normal(len(extra)))
    extra = extra.assign(size=size, undersize_um=undersize, space_um=space, gauged_um=gauged)
    back = extra["fit_day"].to_numpy(dtype=float) + rng.integers(8, 30, size=len(extra))
    there = np.isfinite(undersize)
    hub = progress.hubs.add(extra[there].drop(columns=["hub", "fit_day", "fate", "method", "supplied_um", "filed_um"]))
    back = back[there]
    rows = pd.DataFrame({"hub": hub, "day": back, "reason": "second-size-back", "fitting": NO_ROW, "shelf": True})
    progress.returns.add(rows[back <= progress.end])


def _write_fittings(
    progress: Progress, job: pd.DataFrame, where: Seat, shown: np.ndarray, *, rng: np.random.Generator
) -> pd.Series:
    """Write down the fittings, run those that run, and follow them; give each hub's fitting row."""
    scenario = progress.scenario
    ran = (job["fate"] == "").to_numpy()
    n = len(job)
    shaft = job["shaft"].to_numpy(dtype=np.int64)
    duty = progress.shafts.duty[shaft]
    as_done = (job["method"] == AS_SUPPLIED).to_numpy()
    frailty = progress.frailty[shaft]
    ratio = log_hazard(where.gap_um, as_done, duty, frailty, scenario)
    ways = {}
    for name, supplied in (("supplied_um", True), ("filed_um", False)):
        other_seat = seat(progress.width_um[shaft], job[name].to_numpy(dtype=float))
        done_so = np.full(n, supplied) & (other_seat.tightest_um <= scenario.force_limit_um)
        ways[name] = log_hazard(other_seat.gap_um, done_so, duty, frailty, scenario)
    fit_day = job["fit_day"].to_numpy(dtype=float)
    loose_day = fit_day + days_of(draw_loosening(ratio, scenario, rng=rng))
    months, other = draw_removal(n, scenario, rng=rng)
    other_day = fit_day + days_of(months)
    dealer = ~job["dispatched"].to_numpy(dtype=bool)
    known_from = np.where(dealer, fit_day + rng.integers(30, 400, size=n), -np.inf)
    pull_on = np.array([spec.pull_on_mm for spec in scenario.patterns])[job["pattern"]]
    noted = note(where, ~as_done, pull_on, scenario, rng=rng)
    form = rng.choice(3, size=n, p=_date_forms(scenario.month_only_share, scenario.date_missing_share))
    frame = pd.DataFrame(
        {
            "hub": job["hub"],
            "shaft": shaft,
            "period": progress.period[shaft],
            "fit_day": fit_day,
            "date_form": np.where(ran & ~dealer, form, 0),
            "sent_as": job["sent_as"],
            "method": job["method"],
            "ran": ran,
            "went_on": np.where(ran, noted.went_on, 0),
            "pulled_mm": np.where(ran, noted.pulled_mm, np.nan),
            "play_um": np.where(ran, noted.play_um, np.nan),
            "filing_min": np.where(ran, noted.filing_min, np.nan),
            "drive_marked": np.where(ran, noted.drive_marked, np.nan),
            "coast_marked": np.where(ran, noted.coast_marked, np.nan),
            "compound": (rng.random(n) < 0.4) & ~as_done & ran,
            "seated": ran,
            "refit_of": progress.refit_of[shaft],
            "known_from": np.where(ran, known_from, -np.inf),
            "hand_1": progress.in_hand[shaft, 0],
            "hand_2": progress.in_hand[shaft, 1],
            "hand_3": progress.in_hand[shaft, 2],
            "gap_left_um": where.gap_um,
            "clearance_um": where.clearance_um,
            "tightest_um": where.tightest_um,
            "log_ratio": ratio,
            "log_ratio_supplied": ways["supplied_um"],
            "log_ratio_hand": ways["filed_um"],
            "loose_day": np.where(ran, loose_day, np.inf),
            "other_day": np.where(ran, other_day, np.inf),
        }
    )
    frame, other = frame[shown].reset_index(drop=True), other[shown]
    runs = frame["ran"].to_numpy(dtype=bool)
    silent = progress.owners.silent[progress.shafts.owner[frame["shaft"].to_numpy(dtype=np.int64)]]
    began, loose, ended, learnt = (
        frame.loc[runs, name].to_numpy(float) for name in ("fit_day", "loose_day", "other_day", "known_from")
    )
    news = follow(began, loose, ended, other[runs], silent[runs], learnt, progress.end, scenario, rng=rng)
    seen, known, failed = np.full(len(frame), np.inf), np.ones(len(frame), dtype=bool), np.zeros(len(frame), dtype=bool)
    seen[runs], known[runs], failed[runs] = news.seen_day, news.known, news.failed
    frame = frame.assign(seen_day=seen, recorded=known, failed=failed)
    rows = progress.fittings.add(frame)
    _after(progress, frame[runs].assign(row=rows[runs]), other[runs], news, rng=rng)
    return pd.Series(rows, index=frame["hub"].to_numpy())


def _date_forms(month: float, missing: float) -> list[float]:
    """Shares of fitting dates known to the day, to the month, and not at all."""
    return [1.0 - month - missing, month, missing]


def _after(progress: Progress, run: pd.DataFrame, other: IntArray, news: News, *, rng: np.random.Generator) -> None:
    """Write the news, send failed hubs back, wear the shafts on, and let known ends lead to new orders."""
    scenario = progress.scenario
    n = len(run)
    shaft, row = run["shaft"].to_numpy(dtype=np.int64), run["row"].to_numpy(dtype=np.int64)
    fit_day, loose_day, other_day = (run[name].to_numpy(dtype=float) for name in ("fit_day", "loose_day", "other_day"))
    seen = news.seen_day
    daily = np.array([kind.hours_a_day for kind in scenario.duties])[progress.shafts.duty[shaft]]
    told = news.follow_ups
    at = told["row"].to_numpy(dtype=np.int64)
    run_days = np.minimum(told["day"].to_numpy(dtype=float), other_day[at]) - fit_day[at]
    hours = np.rint(progress.hours[shaft[at]] + daily[at] * np.maximum(run_days, 0.0))
    noted = (told["state"] != "no-answer").to_numpy() & (rng.random(len(told)) < 0.4)
    progress.follow_ups.add(told.assign(fitting=row[at], hours=np.where(noted, hours, np.nan)).drop(columns="row"))
    ended = np.isfinite(seen)
    flank = loose_day <= other_day
    reasons = np.array([removal.return_reason for removal in scenario.removals] or [""], dtype=object)[other]
    reason = np.where(flank, "worked-loose", reasons)
    back = np.where(ended, seen, 0.0) + rng.integers(4, 45, size=n)
    returned = ended & (reason != "") & (rng.random(n) < scenario.returned_share) & (back <= progress.end)
    frame = pd.DataFrame({"hub": run["hub"].to_numpy(), "day": back, "reason": reason, "fitting": row, "shelf": False})
    progress.returns.add(frame[returned])
    last = np.minimum(np.where(ended, seen, progress.end), np.where(flank, np.inf, other_day))
    tight_h = daily * (np.minimum(last, loose_day) - fit_day)
    loose_h = daily * np.maximum(last - loose_day, 0.0)
    progress.width_um[shaft] = wear_on(
        progress.width_um[shaft], progress.shafts.duty[shaft], tight_h, loose_h, scenario, rng=rng
    )
    progress.hours[shaft] += tight_h + loose_h
    refit = np.array([removal.refit_share for removal in scenario.removals] or [0.0])[other]
    again = ended & (rng.random(n) < np.where(flank, scenario.refit_share, refit))
    next_day = np.where(ended, seen, 0.0) + rng.integers(1, 20, size=n).astype(float)
    renew(progress, shaft[again], next_day[again], row[again])
    lot = rng.random(n)
    dressed = again & (lot < 0.1) & (next_day <= progress.end)
    scrapped = ended & ~again & flank & (lot < 0.3) & (next_day <= progress.end)
    events = pd.DataFrame({"shaft": shaft, "day": next_day, "what": np.where(dressed, "dressed", "scrapped")})
    progress.events.add(events[dressed | scrapped])
