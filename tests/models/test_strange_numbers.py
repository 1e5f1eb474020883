"""Model files with strange numbers: refused in one line, or priors that imply finite lakes."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from drawn_fits import records

import fishdown
from fishdown.display.priors import implied_table, priors_table
from fishdown.errors import ModelFileError
from fishdown.models.data import fitting_spec
from fishdown.models.implied import implied
from fishdown.models.spec import model_folder, parse_model

STRANGE = (
    "nan", "-nan", "inf", "-inf", "1e400", "-1e400", "1e308", "-1e308", "1e-308", "5e-324", "-0.0",
    "0", "-1", "1", "0.9999999999999999", "1e12", "-1e12", "1e-12", "1e15", "1e-15", "10", "1e-6",
    "1e6", "1_000.5", "9223372036854775807", "9223372036854775808", f"1{'0' * 400}",
    f"1{'0' * 5000}", f"0x{'f' * 300}", "true", "'0.1'", "[]", "[0.1]", "{}", "{ a = 0.1 }",
    f"{'[' * 1500}{']' * 1500}", "2025-01-01", "1979-05-27T07:32:00Z", "", "\\u0661", "1,5",
)  # fmt: skip
PRIOR = re.compile(r"^\w+ += \{.*\}", re.MULTILINE)
NUMBER = re.compile(r"(?<== )[\d.\-]+")


@pytest.mark.slow
@pytest.mark.parametrize("name", ["one_lake", "pooled_lakes", "many_years"])
def test_every_number_of_a_model_file(name: str, tmp_path: Path) -> None:
    campaign = fishdown.read(records(tmp_path / "r", ["Pond", "Mere"]))
    text = (model_folder() / f"{name}.toml").read_text(encoding="utf-8")
    places = [
        (prior.start() + number.start(), prior.start() + number.end())
        for prior in PRIOR.finditer(text)
        for number in NUMBER.finditer(prior[0])
    ]
    assert len(places) > 40
    outcomes: Counter[str] = Counter()
    for start, end in places:
        for strange in STRANGE:
            outcomes[outcome(text[:start] + strange + text[end:], campaign)] += 1
    print(f"{name}: {len(places)} numbers, {outcomes.total():,} model files: {dict(outcomes)}")


def outcome(text: str, campaign: fishdown.Campaign) -> str:
    said = ""
    try:
        spec = parse_model(text, "mine")
    except ModelFileError as error:
        said = str(error)
    if said:
        assert said.startswith("model mine")
        assert "\n" not in said
        assert len(said) < 500
        return "refused"
    fitted, _ = fitting_spec(campaign, spec)
    found = implied(fitted, campaign, draws=500, seed=1)
    for table in (priors_table(fitted), implied_table(found)):
        assert not re.search(r"\b(nan|inf)\b", repr(table)), text
    assert np.isfinite(found.select_dtypes("number")).all(axis=None)
    return "taken"
