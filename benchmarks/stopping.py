"""Whether stopping by expected loss ever loses to simpler rules.

    python benchmarks/stopping.py --seasons 300 --minutes 25

One lake a season, with up to 80 pulls on 20 days. After every second round (8 pulls) the crew fits
what it has, looks at all further rounds as `fishdown ahead` shows them (days known, water unknown)
and goes on if any number of them has a smaller expected loss than stopping. The other rules are
judged on the same seasons: the same catches, the same truth; the best of those that do not look is
printed bold. Every season is kept in `kept/stopping.jsonl` and a stopped study goes on where it
stopped. DECISIONS.md has the results.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from midseason import Season, seasons
from trials import THRESHOLD, Clock, OneLake, kept_in, study_header

from fishdown.decisions.lake_ahead import LakeAhead, Terms
from fishdown.posterior.sampling import SamplerSettings
from fishdown.results_log import ResultsLog

if TYPE_CHECKING:
    from fishdown.worlds import World

SHORT = SamplerSettings(draws=300, tune=400, chains=2, cores=1)
ROUNDS, DAYS_BETWEEN = 20, 7.0
# Pulls between decisions: two rounds of four nets.
STEP = 8
# Fixed effort in proportion to area, pulls a ha.
PER_HA = (0.25, 0.5, 1.0, 1.5, 2.0, 3.0)
SURE = 0.9
OURS, ALIKE = "expected loss", "expected loss, stopping when alike"


@dataclass(frozen=True)
class Setting:
    """What pulls cost and bring, in any one currency."""

    name: str
    per_pull: float
    above: float
    per_kg: float

    @property
    def terms(self) -> Terms:
        return Terms(per_pull=self.per_pull, above=self.above, value_per_kg=self.per_kg)

    def loss(self, season: dict[str, Any]) -> np.ndarray:
        """Return what ending after each number of pulls truly cost, shape (pull + 1,)."""
        pulls = np.arange(len(season["biomass"]))
        above = np.array(season["biomass"]) >= THRESHOLD
        loss: np.ndarray = (
            self.per_pull * pulls + self.above * above - self.per_kg * np.array(season["taken_kg"])
        )
        return loss


SETTINGS = (
    Setting("cheap pulls, dear failure", 100.0, 20_000.0, 0.0),
    Setting("dear pulls", 400.0, 10_000.0, 0.0),
    Setting("fish sold", 200.0, 5_000.0, 2.0),
)


def longer(world: World, _: np.random.Generator) -> World:
    """Let the season go on until nobody would."""
    return replace(world, rounds=ROUNDS, days_between=DAYS_BETWEEN)


def decisions(model: OneLake, season: Season, number: int) -> list[dict[str, Any]]:
    """Return, after every second round but the last, what each rule that looks would do."""
    found = []
    for done in range(STEP, len(season.caught), STEP):
        fit = model.fit(season.until(done), replace(SHORT, seed=number * 100 + done))
        plan = {"Lake 1": season.to_come(done, temperatures=False)}
        lake = fit.ahead(plan=plan, seed=number, despite_gate=True).lakes[0]
        assert lake.below is not None
        assert lake.expected_kg is not None
        found.append(
            {
                # Now and after each further step, from which the expected losses follow.
                "below": lake.below[0, ::STEP].tolist(),
                "kg": [0.0, *np.cumsum(lake.expected_kg[0])[STEP - 1 :: STEP].tolist()],
                "divergences": fit.quality.divergences,
                "rules": {one.name: _would_stop(lake, one) for one in SETTINGS},
            }
        )
    return found


def _would_stop(lake: LakeAhead, setting: Setting) -> dict[str, bool]:
    """Return which rules that know the setting stop here."""
    told = replace(lake, terms=setting.terms)
    assert told.losses is not None
    # Only whole steps can be had. The tie goes to stopping.
    best = bool(np.argmin(told.losses.mean[::STEP]) == 0)
    stop = {OURS: best, ALIKE: best or 0 in told.losses.alike}
    if told.break_even is not None:
        stop["expected catch below break-even"] = told.break_even[1] == 0
    return stop


def ends(row: dict[str, Any], setting: Setting) -> dict[str, int]:
    """Return the number of pulls after which each rule ended one season."""
    last = len(row["biomass"]) - 1
    looks = list(range(STEP, last, STEP))
    found = {f"{pulls} pulls": pulls for pulls in range(STEP, last + 1, STEP)}
    for rate in PER_HA:
        pulls = STEP * round(rate * row["area"] / STEP)
        found[f"{rate:g} pulls a ha"] = int(np.clip(pulls, STEP, last))

    def first(stops: list[bool]) -> int:
        return next((pulls for pulls, stop in zip(looks, stops, strict=True) if stop), last)

    told = [look["rules"][setting.name] for look in row["looks"]]
    for rule in told[0]:
        found[rule] = first([one[rule] for one in told])
    found[f"P(below) at least {SURE:.0%}"] = first(
        [look["below"][0] >= SURE for look in row["looks"]]
    )
    steps = np.arange(STEP, last + 1, STEP)
    found["whoever knows the truth"] = int(steps[np.argmin(setting.loss(row)[steps])])
    return found


def report(rows: list[dict[str, Any]]) -> str:
    """Lay out all results as Markdown."""
    start = np.array([row["biomass"][0] >= THRESHOLD for row in rows])
    end = np.array([row["biomass"][-1] < THRESHOLD for row in rows])
    looks = [look["divergences"] > 0 for row in rows for look in row["looks"]]
    lines = [
        f"{len(rows)} seasons; {start.mean():.0%} of the lakes start above the threshold, and "
        f"{(start & end).sum() / start.sum():.0%} of these would end below it after all pulls. "
        f"{np.mean(looks):.1%} of the fits had a divergence."
    ]
    return "\n".join([*lines, *(line for one in SETTINGS for line in _table(rows, one))])


def _table(rows: list[dict[str, Any]], setting: Setting) -> list[str]:
    lines = [
        "",
        f"**{setting.name.capitalize()}**: {setting.per_pull:,.0f} a pull, {setting.above:,.0f} "
        f"for ending above the threshold, {setting.per_kg:g} for a kg taken out.",
        "",
        "| rule | mean pulls | ended above | mean loss | more than by expected loss |",
        "| --- | ---: | ---: | ---: | ---: |",
    ]
    each = [ends(row, setting) for row in rows]
    loss = np.array([setting.loss(row) for row in rows])
    place = np.arange(len(rows))
    above = np.array([np.array(row["biomass"]) >= THRESHOLD for row in rows])
    fixed = [rule for rule in each[0] if _group(rule) == 2]
    best = min(fixed, key=lambda rule: loss[place, [one[rule] for one in each]].mean())
    ours = loss[place, [one[OURS] for one in each]]
    for rule in sorted(each[0], key=_group):
        pulls = np.array([one[rule] for one in each])
        lost = loss[place, pulls]
        more = "–" if rule == OURS else _mean(lost - ours, sign="+")
        lines.append(
            f"| {f'**{rule}**' if rule == best else rule} | {pulls.mean():.0f} "
            f"| {above[place, pulls].mean():.0%} | {_mean(lost)} | {more} |"
        )
    return lines


def _group(rule: str) -> int:
    """Ours first, then those that look, then those that do not, and the truth last."""
    if rule.startswith(OURS):
        return 0
    if rule.startswith("whoever"):
        return 3
    return 2 if "pulls" in rule else 1


def _mean(values: np.ndarray, sign: str = "") -> str:
    return f"{values.mean():{sign},.0f} ± {values.std(ddof=1) / len(values) ** 0.5:,.0f}"


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--seasons", type=int, default=300)
    parser.add_argument("--minutes", type=float, default=25.0, help="stop after so many")
    parser.add_argument("--seed", type=int, default=2028)
    options = parser.parse_args()
    known = {
        "short": SHORT.entry(),
        "rounds": [ROUNDS, DAYS_BETWEEN, STEP],
        "losses": [[one.name, one.per_pull, one.above, one.per_kg] for one in SETTINGS],
    }
    log = ResultsLog(kept_in("stopping.jsonl"), study_header(options.seed, **known))
    clock = Clock(options.minutes)
    lake: OneLake | None = None
    for number, season in seasons(log, options.seed, options.seasons, longer):
        if clock.over:
            break
        lake = lake or OneLake(season.until(STEP))
        taken = np.concatenate([[0.0], np.cumsum(season.kilograms)])
        log.add(
            number,
            {
                "area": season.world.lakes[0].area_ha,
                "biomass": season.biomass.tolist(),
                "taken_kg": taken.tolist(),
                "looks": decisions(lake, season, number),
            },
        )
    print(report([log.rows[number] for number in sorted(log.rows)]))


if __name__ == "__main__":
    main()
