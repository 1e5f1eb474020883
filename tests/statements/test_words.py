"""Probabilities and numbers as people read them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fishdown.words import (
    amount,
    likelihood_words,
    part_words,
    percent,
    percent_with_error,
    value_and_error,
    with_error,
)

# Mastrandrea et al. 2010, IPCC guidance note on consistent treatment of uncertainties: virtually
# certain 99–100 %, very likely 90–100 %, likely 66–100 %, about as likely as not 33–66 %, unlikely
# 0–33 %, very unlikely 0–10 %, exceptionally unlikely 0–1 %; values from memory.
SCALE = [
    (1.0, "virtually certain"),
    (0.99, "virtually certain"),
    (0.9899, "very likely"),
    (0.90, "very likely"),
    (0.8999, "likely"),
    (0.66, "likely"),
    (0.6599, "about as likely as not"),
    (0.5, "about as likely as not"),
    (0.3301, "about as likely as not"),
    (0.33, "unlikely"),
    (0.1001, "unlikely"),
    (0.10, "very unlikely"),
    (0.0101, "very unlikely"),
    (0.01, "exceptionally unlikely"),
    (0.0, "exceptionally unlikely"),
]


@pytest.mark.parametrize(("probability", "words"), SCALE)
def test_words_at_every_limit(probability: float, words: str) -> None:
    assert likelihood_words(probability) == words


@pytest.mark.parametrize("probability", [-0.01, 1.01, math.nan])
def test_what_is_no_probability_has_no_words(probability: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        likelihood_words(probability)


def test_percent_is_never_0_or_100() -> None:
    extremes = [0.0, 1e-300, 1e-9, 0.00999, 0.01, 0.99, 0.990001, 1.0 - 1e-16, 1.0]
    for probability in [*extremes, *np.linspace(0.0, 1.0, 20_001)]:
        text = percent(float(probability))
        number = text.removeprefix("more than ").removeprefix("less than ").removesuffix(" %")
        assert 1 <= int(number) <= 99


@pytest.mark.parametrize(
    ("probability", "text"),
    [
        (0.0, "less than 1 %"),
        (0.0099, "less than 1 %"),
        (0.01, "1 %"),
        (0.285, "28 %"),  # IEEE 754: the nearest double lies below 0.285
        (0.286, "29 %"),
        (0.99, "99 %"),
        (0.9901, "more than 99 %"),
        (1.0, "more than 99 %"),
    ],
)
def test_percent(probability: float, text: str) -> None:
    assert percent(probability) == text


@pytest.mark.parametrize(
    ("probability", "error", "text"),
    [
        (0.29, 0.0001, "29 ± 1 %"),
        (0.29, 0.0301, "29 ± 4 %"),  # an error is rounded up, never down
        (0.999, 0.0001, "more than 99 %"),
        (0.001, 0.0001, "less than 1 %"),
    ],
)
def test_percent_with_error(probability: float, error: float, text: str) -> None:
    assert percent_with_error(probability, error) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"),
        (-0.0, "0"),
        (2_437.0, "2,440"),
        (12_345_678.0, "12,300,000"),
        (100.0, "100"),
        (11.04, "11.0"),
        (9.994, "9.99"),
        (9.996, "10.0"),
        (99.96, "100"),
        (999.6, "1,000"),
        (0.9996, "1.00"),
        (0.05, "0.0500"),
        (0.000012345, "0.0000123"),
        (-9.996, "-10.0"),
        (1e22, "10,000,000,000,000,000,000,000"),
        (math.inf, "inf"),
        (math.nan, "nan"),
    ],
)
def test_amount_has_three_significant_digits(value: float, text: str) -> None:
    assert amount(value) == text


def test_amount_is_within_half_a_third_digit() -> None:
    for value in np.random.default_rng(5).lognormal(0.0, 8.0, 2_000):
        text = amount(float(value))
        assert "e" not in text
        assert float(text.replace(",", "")) == pytest.approx(value, rel=0.0051)
        digits = text.replace(",", "").replace(".", "").lstrip("0")
        assert len(digits) == 3 or value >= 1_000.0


@pytest.mark.parametrize(
    ("value", "error", "text"),
    [
        (1_243.2, 23.4, "1,243 ± 24"),
        (1_243.2, 56.1, "1,240 ± 60"),
        (1_243.2, 156.1, "1,240 ± 160"),
        (5.53, 6.0, "6 ± 6"),
        (0.781, 0.118, "0.78 ± 0.12"),
        (12.34, 0.0456, "12.34 ± 0.05"),
        (0.0, 3.0, "0 ± 3"),
        (-0.2, 3.0, "0 ± 3"),
        (98_765.4, 0.3, "98,770 ± 10"),  # four digits of the number at most
        (42.0, 9.6, "42 ± 10"),
        (3.14159, 0.0, "3.14"),
        (3.14159, math.nan, "3.14"),
    ],
)
def test_a_number_ends_where_its_error_does(value: float, error: float, text: str) -> None:
    assert with_error(value, error) == text


@pytest.mark.parametrize(
    ("value", "error", "text"),
    [
        (5.53, 5.2, "6 ± 6"),
        (35.21, 0.2, "35 ± 1"),
        (35.21, 0.0, "35 ± 1"),
        (0.4, 2.2, "0 ± 3"),
        (12_345.0, 678.0, "12,300 ± 700"),
    ],
)
def test_fish_are_whole(value: float, error: float, text: str) -> None:
    assert with_error(value, error, whole=True) == text


def test_the_digits_of_a_number_and_its_error_end_together() -> None:
    rng = np.random.default_rng(7)
    for value, error in zip(
        rng.lognormal(3.0, 3.0, 2_000), rng.lognormal(0.0, 3.0, 2_000), strict=True
    ):
        shown, its_error = (text.replace(",", "") for text in value_and_error(value, error))
        decimals = [len(text.partition(".")[2]) for text in (shown, its_error)]
        assert decimals[0] == decimals[1]
        assert 1 <= len(its_error.replace(".", "").strip("0")) <= 2
        assert error * (1.0 - 1e-6) <= float(its_error)
        assert abs(float(shown) - value) <= float(its_error)


@pytest.mark.parametrize(
    ("part", "words"),
    [
        (0.01, "hardly any"),
        (0.12, "about a tenth"),
        (0.3, "about a third"),
        (0.65, "about two thirds"),
        (0.93, "about nine tenths"),
        (0.99, "nearly all"),
    ],
)
def test_parts_in_words(part: float, words: str) -> None:
    assert part_words(part) == words
