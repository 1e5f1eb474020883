"""Colours that colour-blind eyes, weak eyes and grey printers can tell apart."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from fishdown.errors import FishdownError
from fishdown.palette import DARK, LIGHT, PAGE, PALETTES, PRINT, Palette, palette_named

# Simulation of full colour blindness on linear RGB: Machado, Oliveira & Fernandes 2009, IEEE
# Transactions on Visualization and Computer Graphics 15:1291–1298 (matrices from memory).
SIGHT = {
    "full": np.eye(3),
    "protanopia": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deuteranopia": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "tritanopia": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}
TO_XYZ = np.array(
    [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ]
)
DATA = ("ink", "estimate", "other", "threshold")


def linear(colour: str) -> np.ndarray:
    """Linear RGB of an sRGB colour (IEC 61966-2-1)."""
    parts = np.array([int(colour[place : place + 2], 16) for place in (1, 3, 5)]) / 255.0
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def lab(rgb: np.ndarray) -> np.ndarray:
    """CIE 1976 L*a*b* under D65."""
    xyz = TO_XYZ @ np.clip(rgb, 0.0, 1.0) / np.array([0.95047, 1.0, 1.08883])
    f = np.where(xyz > 216 / 24389, np.cbrt(xyz), (24389 / 27 * xyz + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def contrast(one: str, other: str) -> float:
    """Contrast ratio of WCAG 2.2."""
    light, dark = sorted((linear(c) @ TO_XYZ[1] for c in (one, other)), reverse=True)
    return float((light + 0.05) / (dark + 0.05))


def test_the_reference_colours_of_the_standard() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    # Known from many tables: #767676 is the lightest grey of 4.5 on white.
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)
    assert lab(linear("#ffffff")) == pytest.approx([100.0, 0.0, 0.0], abs=0.05)


@pytest.mark.parametrize("palette", [LIGHT, PRINT, PAGE, DARK], ids=lambda palette: palette.name)
def test_text_and_marks_stand_out(palette: Palette) -> None:
    """WCAG 2.2, success criteria 1.4.3 (text) and 1.4.11 (graphics)."""
    for text in ("ink", "quiet", "estimate", "threshold"):
        assert contrast(getattr(palette, text), palette.paper) >= 4.5, text
    for mark in DATA:
        assert contrast(getattr(palette, mark), palette.paper) >= 3.0, mark


@pytest.mark.parametrize("sight", SIGHT)
@pytest.mark.parametrize("palette", [LIGHT, PRINT, DARK], ids=lambda palette: palette.name)
def test_no_two_meanings_look_alike(palette: Palette, sight: str) -> None:
    for one, other in itertools.combinations(DATA, 2):
        seen = [lab(SIGHT[sight] @ linear(getattr(palette, name))) for name in (one, other)]
        # A difference of 2.3 is just noticeable side by side (Mahy, Van Eycken & Oosterlinck
        # 1994); apart and in thin lines it takes many times as much.
        assert np.linalg.norm(seen[0] - seen[1]) > 18.0, (one, other)


def test_on_paper_before_and_after_differ_without_colour() -> None:
    lightness = [lab(linear(colour))[0] for colour in (PRINT.other, PRINT.estimate)]
    assert lightness[0] - lightness[1] > 25.0


def test_an_unknown_palette_is_refused_with_the_known_ones() -> None:
    with pytest.raises(FishdownError, match=f"there are {', '.join(PALETTES)}"):
        palette_named("neon")
