"""Contours over a triangle and traces: the numbers they draw, and what stays empty."""

from __future__ import annotations

import numpy as np
import pytest
from reference_data import reference

from rheokit.base.errors import ComparisonError
from rheokit.comparison.effects import fit_effects
from rheokit.comparison.mixture_plots import plot_ternary, plot_traces, ternary_grid, trace

YARN = reference("cornell_yarn")
THREE = ("polymer 1", "polymer 2", "polymer 3")
EQUAL = dict.fromkeys(THREE, 1.0 / 3.0)


def yarn():
    shares = np.array(YARN["shares"])
    runs = {name: shares[:, index] for index, name in enumerate(THREE)}
    return fit_effects(runs, YARN["elongation"], response="elongation", unit="1", model="mixture_quadratic", scale="linear")


def test_the_grid_holds_the_published_model_and_its_maximum():
    blends, response = ternary_grid(yarn(), THREE)
    one, two, three, *pairs = YARN["coefficients"]
    a, b, c = blends.T
    # Printed to one decimal: half a unit of it on each of six terms, whose factors add up to 2 at most.
    by_hand = one * a + two * b + three * c + pairs[0] * a * b + pairs[1] * a * c + pairs[2] * b * c
    np.testing.assert_allclose(response, by_hand, atol=0.1)
    best = blends[np.nanargmax(response)]
    assert best == pytest.approx(YARN["maximum_at"], abs=0.02)  # the grid steps by 1/60
    assert np.nanmax(response) == pytest.approx(YARN["maximum"], abs=0.01)


def test_the_order_of_the_corners_is_the_order_asked_for():
    turned, response = ternary_grid(yarn(), ("polymer 3", "polymer 1", "polymer 2"))
    straight, other = ternary_grid(yarn(), THREE)
    at = {tuple(np.round(row, 6)): value for row, value in zip(straight, other, strict=True)}
    for row, value in zip(turned[::97], response[::97], strict=True):
        assert at[tuple(np.round(row[[1, 2, 0]], 6))] == pytest.approx(value, rel=1e-12)


def narrow():
    rng = np.random.default_rng(2)
    shares = np.column_stack([0.2 + 0.05 * rng.random(12), 0.3 + 0.05 * rng.random(12)])
    shares = np.column_stack([shares, 0.9 - shares.sum(axis=1), np.full(12, 0.1)])
    shares[:, 3] += 0.02 * rng.random(12)
    shares[:, 2] -= shares[:, 3] - 0.1
    y = np.exp(shares @ np.array([1.0, 2.0, 3.0, 4.0]) + 0.01 * rng.standard_normal(12))
    return fit_effects(dict(zip("abcd", shares.T, strict=True)), y, response="yield_stress", unit="Pa", model="mixture_linear")


def test_what_was_not_tried_stays_empty():
    blends, response = ternary_grid(narrow(), ("a", "b", "c"), {"d": 0.11})
    known = np.isfinite(response)
    assert 0.05 * known.size < known.sum() < 0.9 * known.size  # the triangle reaches down to the least shares: a narrow region fills it
    assert blends[known][:, 0].min() >= 0.2 - 1e-9
    np.testing.assert_allclose(blends.sum(axis=1), 0.89)


def test_a_trace_keeps_the_proportions_of_the_others():
    share, response, low, high = trace(yarn(), "polymer 1", EQUAL)
    assert (share[0], share[-1]) == (0.0, 1.0)
    coefficients = YARN["coefficients"]
    assert response[-1] == pytest.approx(coefficients[0], abs=0.05)
    half = 0.25 * (2.0 * (coefficients[1] + coefficients[2]) + coefficients[5])  # half of 2, half of 3
    assert response[0] == pytest.approx(half, abs=0.1)
    assert np.all((low < response) & (response < high))


def test_the_drawings_are_labelled_and_show_the_runs():
    ax = plot_ternary(yarn(), THREE)
    words = [text.get_text() for text in ax.texts]
    assert all(any(name in word for word in words) for name in THREE)
    assert "elongation" in ax.get_title()
    marks = [line for line in ax.lines if line.get_marker() == "o"]
    assert len(marks[0].get_xdata()) == len(YARN["elongation"])
    ax = plot_traces(yarn(), EQUAL)
    assert {text.get_text() for text in ax.texts} == set(THREE)
    assert ax.get_ylabel() == "elongation"


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: ternary_grid(yarn(), ("polymer 1", "polymer 2", "polymer 2")), "a triangle blends three components of polymer 1"),
        (lambda: ternary_grid(narrow(), ("a", "b", "c")), r"holds the others \(d\)"),
        (lambda: ternary_grid(narrow(), ("a", "b", "c"), {"d": 1.2}), "leave -0.2 for the three"),
        (lambda: plot_ternary(narrow(), ("a", "b", "c"), {"d": 0.17}), "holds too little of this triangle"),
        (lambda: plot_ternary(narrow(), ("a", "b", "c"), {"d": 0.5}), r"leave 0\.5 for the three, of which at least 0\.8"),
        (lambda: trace(yarn(), "polymer 1", {"polymer 1": 1.0}), "a trace starts from shares of polymer 1"),
        (
            lambda: trace(fit_effects({"x": np.arange(5.0)}, np.arange(1.0, 6.0), response="r"), "x", {"x": 1.0}),
            "a main effects model is no mixture model",
        ),
    ],
)
def test_what_cannot_be_drawn_is_refused(call, message):
    with pytest.raises(ComparisonError, match=message):
        call()
