from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from fishdown.models.weights import weights_log_density


def test_three_sums_equal_scipys_gamma_density() -> None:
    weights = np.random.default_rng(3).gamma(4.0, 0.6, 37)
    for mean, variation in ((2.4, 0.5), (1.1, 0.2), (6.0, 1.3)):
        shape = 1.0 / variation**2
        expected = stats.gamma(shape, scale=mean / shape).logpdf(weights).sum()
        found = weights_log_density(
            len(weights), weights.sum(), np.log(weights).sum(), mean, variation
        )
        assert found == pytest.approx(expected, rel=1e-12)


def test_most_likely_mean_is_the_sample_mean() -> None:
    weights = np.array([0.4, 0.5, 0.6, 4.0, 5.2])  # two year classes: nothing like a gamma
    means = np.linspace(0.5, 6.0, 5_501)
    density = weights_log_density(len(weights), weights.sum(), np.log(weights).sum(), means, 0.9)
    assert means[density.argmax()] == pytest.approx(weights.mean(), abs=1e-3)
