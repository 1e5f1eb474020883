"""Tables of what was found in messy lakes."""

from __future__ import annotations

from typing import Any

import numpy as np
from messy_models import CHAPMAN, EVERY_MARK, MODELS, Study, rows_of
from messy_worlds import KINDS, THRESHOLD
from trials import LEVELS


def table(study: Study, parts: list[str]) -> list[str]:
    """Lay out the scores of every kind and model."""
    lines = [
        "| kind | model | campaigns | 50 % | 80 % | 90 % | 95 % | ratio of 90 % ends "
        "| surer than 90 % below, wrong | above, wrong | log score | gain on every mark counts |",
        "| --- | --- |" + " ---: |" * 10,
    ]
    for kind in KINDS:
        rows = rows_of(kind, study, parts)
        if rows:
            lines += [
                line_of(kind, model, [row for row in rows if model in row])
                for model in (CHAPMAN, *MODELS)
                if any(model in row for row in rows)
            ]
    return lines


def line_of(kind: str, model: str, rows: list[dict[str, Any]]) -> str:
    answers = [
        (answer, truth["biomass_after"])
        for row in rows
        for answer, truth in zip(row[model], row["truth"], strict=True)
        if _answers(answer)
    ]
    truth = np.array([left for _, left in answers])
    ends = np.array([answer["limits"] for answer, _ in answers])
    held = [
        f"{np.mean((ends[:, 1 + 2 * i] <= truth) & (truth <= ends[:, 2 + 2 * i])):.0%}"
        for i in range(len(LEVELS))
    ]
    below = np.array([answer["below"] for answer, _ in answers])
    wrong = [
        f"{int((sure & false).sum())} of {int(sure.sum())}"
        for sure, false in ((below > 0.9, truth >= THRESHOLD), (below < 0.1, truth < THRESHOLD))
    ]
    score, gain = [], []
    for row in rows:
        own = {lake: mine["log_score"] for lake, mine in enumerate(row[model]) if _answers(mine)}
        if own:
            score.append(np.mean(list(own.values())))
        if own and EVERY_MARK in row:
            plain = row[EVERY_MARK]
            gain.append(np.mean([mine - plain[lake]["log_score"] for lake, mine in own.items()]))
    error = np.std(gain, ddof=1) / np.sqrt(len(gain)) if len(gain) > 1 else np.nan
    ninety = np.median(ends[:, 6] / ends[:, 5])
    cells = [
        kind if model == CHAPMAN else "", model, str(len(rows)), *held, f"{ninety:.2f}", *wrong,
        f"{np.mean(score):.2f}",
        "–" if model == EVERY_MARK or not gain else f"{np.mean(gain):+.2f} ± {error:.2f}",
    ]  # fmt: skip
    return "| " + " | ".join(cells) + " |"


def _answers(answer: dict[str, Any] | None) -> bool:
    # The formula has no limits without recaptures, or with a single fish weighed.
    return answer is not None and bool(np.isfinite(answer["log_score"]))


def sampling(study: Study, parts: list[str]) -> list[str]:
    """Say how long sampling took, if one by one, and how often it went wrong, over all kinds."""
    rows = [row for kind in KINDS for row in rows_of(kind, study, parts)]
    lines = []
    for model in MODELS:
        went = [row[f"{model}, sampling"] for row in rows if model in row]
        diverged = sum(one["divergences"] > 0 for one in went)
        said = [f"{diverged} of {len(went)} campaigns with a divergence"]
        if seconds := [one["seconds"] for one in went if "seconds" in one]:
            said.append(f"{np.median(seconds):.2f} s of sampling (median)")
        if rhat := [one["rhat"] for one in went if "rhat" in one]:
            said.append(
                f"R-hat of the biomass left above 1.01 in {np.mean(np.array(rhat) > 1.01):.1%}, "
                f"above 1.05 in {np.mean(np.array(rhat) > 1.05):.1%}"
            )
        lines.append(f"{model}: " + "; ".join(said))
    return lines
