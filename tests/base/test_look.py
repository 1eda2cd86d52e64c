"""The look of figures: colours that stay apart for every eye, and axes labelled as a person would."""

from itertools import combinations

import matplotlib.pyplot as plt
import numpy as np
import pytest

from rheokit.base.look import HUES, INK, dress, plain
from rheokit.base.show import drawable_formula

# Linear RGB as seen without one kind of cone: Machado, Oliveira & Fernandes, IEEE Trans. Vis. Comput. Graph. 15 (2009) 1291, severity 1
# (from memory; each row sums to 1, so that grey stays grey).
SEEN = {
    "all cones": np.eye(3),
    "no long": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "no medium": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    "no short": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
}
# Linear sRGB to XYZ (IEC 61966-2-1) and the white of D65.
TO_XYZ = np.array([[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]])
WHITE = np.array([0.95047, 1.0, 1.08883])


def lab(colour, seen):
    """CIE 1976 L*a*b* of a colour as an eye sees it."""
    part = np.array([int(colour[start : start + 2], 16) for start in (1, 3, 5)]) / 255.0
    linear = np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)
    ratio = TO_XYZ @ np.clip(np.array(seen) @ linear, 0.0, 1.0) / WHITE
    root = np.where(ratio > 0.008856, np.cbrt(ratio), 7.787 * ratio + 16.0 / 116.0)
    return np.array([116.0 * root[1] - 16.0, 500.0 * (root[0] - root[1]), 200.0 * (root[1] - root[2])])


@pytest.mark.parametrize("eye", SEEN)
def test_any_two_hues_stay_apart_for_every_eye(eye):
    assert np.sum(SEEN[eye], axis=1) == pytest.approx([1.0, 1.0, 1.0], abs=1e-5)
    colours = [lab(hue, SEEN[eye]) for hue in HUES]
    # A difference of 2 is just seen side by side; 20 is told at a glance on lines that lie apart (common practice, no source).
    assert min(np.linalg.norm(one - other) for one, other in combinations(colours, 2)) > 20.0
    # All are dark enough for a line on white.
    assert max(colour[0] for colour in colours) < 65.0
    assert lab(INK, SEEN[eye])[0] < 25.0


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (200.0, "200"),
        (0.05, "0.05"),
        (1.0, "1"),
        (0.001, "0.001"),
        (1000.0, "1\N{THIN SPACE}000"),
        (20000.0, "20\N{THIN SPACE}000"),
        (1e7, "10⁷"),
        (2e-6, "2·10⁻⁶"),
        (-3.0, "\N{MINUS SIGN}3"),
        (0.0, "0"),
        (np.inf, ""),
    ],
)
def test_numbers_stand_plainly_on_an_axis(value, text):
    assert plain(value) == text


def test_a_narrow_logarithmic_axis_has_steps_between_its_decades():
    figure, ax = plt.subplots()
    dress(ax, logarithmic="both")
    ax.set_xlim(0.1, 1000.0)
    ax.set_ylim(30.0, 120.0)
    figure.canvas.draw()
    across = [label.get_text() for label in ax.get_xticklabels(which="both") if label.get_text()]
    up = [label.get_text() for label in ax.get_yticklabels(which="both") if label.get_text()]
    assert {"0.1", "1", "10", "100", "1\N{THIN SPACE}000"} <= set(across)
    assert not {"2", "20"} & set(across)
    assert {"30", "50", "100"} <= set(up)
    assert "60" not in up
    plt.close(figure)


def test_a_formula_out_of_reach_is_shown_as_it_stands():
    assert drawable_formula(r"\tau = \frac{a}{b}") == r"$\tau = \frac{a}{b}$"
    assert drawable_formula(r"\begin{cases}") == r"\begin{cases}"
    figure, ax = plt.subplots()
    ax.set_title(drawable_formula(r"costs 5$ \x"))
    figure.canvas.draw()
    plt.close(figure)
