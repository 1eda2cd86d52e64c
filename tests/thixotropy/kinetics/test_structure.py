"""The structure along a programme: exact answers, an integrator at 1e-10, and derivatives."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from rheokit.thixotropy.kinetics.history import NODES, WEIGHTS, join
from rheokit.thixotropy.kinetics.programme import Piece, Programme, loop_programme, startup_programme, step_test_programme
from rheokit.thixotropy.kinetics.structure import KINETICS, equilibrium_points, refined, structure_along


def integrated(programme, a, b, m, start):
    """Return the structure by an adaptive integrator at 1e-10, piece by piece."""
    found, value = [], start
    for piece in programme.pieces:
        times = np.unique([*piece.points, piece.duration])
        answer = solve_ivp(
            lambda t, y, piece=piece: a - (a + b * piece.at(np.array(t)) ** m) * y,
            (0.0, piece.duration), [value], t_eval=times, rtol=1e-10, atol=1e-13, method="DOP853",
        )  # fmt: skip
        found += answer.y[0][np.isin(times, piece.points)].tolist()
        value = answer.y[0][-1]
    return np.array(found)


LOGARITHMIC = Programme(
    pieces=(
        Piece(kind="up", duration=100.0, start=0.01, end=100.0, course="logarithmic", points=tuple(np.linspace(0.0, 100.0, 31))),
        Piece(kind="down", duration=40.0, start=100.0, end=0.01, course="logarithmic", points=tuple(np.linspace(0.0, 40.0, 21))),
    )
)


def test_the_gauss_points_are_those_of_numpy():
    nodes, weights = np.polynomial.legendre.leggauss(4)
    assert pytest.approx(0.5 + 0.5 * nodes, abs=1e-15) == NODES  # rounding of one half
    assert pytest.approx(0.5 * weights, abs=1e-15) == WEIGHTS


def test_a_step_is_moores_exponential():
    programme = Programme(pieces=(Piece(kind="shear", duration=10.0, start=20.0, end=20.0, points=(1.0, 5.0, 10.0)),))
    found = structure_along(programme.history(), 0.1, 0.02, 1.0, [1.0]).value[0]
    # L = Lss + (1 - Lss) exp(-(a + b rate) t) with a 0.1, b 0.02, rate 20: exact mathematics, eight printed digits.
    assert found == pytest.approx([0.68522453, 0.26566800, 0.20539036], abs=5e-9)
    exact = 0.2 + 0.8 * np.exp(-0.5 * np.array([1.0, 5.0, 10.0]))
    assert found == pytest.approx(exact, rel=1e-14)  # two exponentials and their rounding


def triangle(points):
    up = 20.0 * np.arange(1, points + 1) / points
    return Programme(
        pieces=(
            Piece(kind="up", duration=20.0, start=0.0, end=100.0, course="linear", points=tuple(up)),
            Piece(kind="down", duration=20.0, start=100.0, end=0.0, course="linear", points=tuple(up - 20.0 / points)),
        )
    )


@pytest.mark.parametrize(("b", "area"), [(0.001, 3995.7640089), (1e-6, 2.0 * 1e-6 * 100.0**4 / (4.0 * 5.0)), (0.1, 2.0 * 5.0 / 0.1)])
def test_breakdown_alone_encloses_its_exact_area_and_both_limits(b, area):
    # Stress D L rate, ramps of beta = 5 1/s²: area D (beta/b) (1 - exp(-X))², X = b g_m²/(2 beta), here D 2 and X 1, 0.001 and 100. The
    # first is that number to eleven digits; the limits D b g_m⁴/(4 beta) and D beta/b miss it by X and by exp(-X).
    points = 4000
    history = triangle(points).history()
    structure = structure_along(refined(history, 0.0, b, 1.0), 0.0, b, 1.0, [1.0]).value[0]
    up, down = structure[:points], structure[points:][::-1]
    rate = 100.0 * np.arange(1, points + 1) / points
    found = np.trapezoid(np.concatenate([[0.0], 2.0 * rate * (up - down)]), np.concatenate([[0.0], rate]))
    x = b * 100.0**2 / 10.0
    assert found == pytest.approx(2.0 * 5.0 / b * (1.0 - np.exp(-x)) ** 2, rel=2e-4 if x > 10.0 else 2e-6)  # trapezoids, step 0.025 1/s
    assert found == pytest.approx(area, rel=2e-6 if x == 1.0 else max(1.1 * x, 1e-3) if x < 1.0 else 2e-4)


@pytest.mark.parametrize(
    ("a", "b", "m", "programme"),
    [
        (0.025, 0.005, 0.5, loop_programme()),
        (0.1, 0.02, 1.0, loop_programme()),
        (0.025, 0.5, 0.5, loop_programme()),
        (0.02, 0.05, 1.3, loop_programme()),
        (0.5, 0.3, 0.1, loop_programme()),
        (0.025, 0.02, 0.5, loop_programme(ramp_duration=3.0)),
        (0.001, 0.002, 2.0, loop_programme(ramp_duration=100.0, points=10)),
        (0.0, 0.001, 1.0, loop_programme()),
        (0.025, 0.005, 0.5, step_test_programme(shear_rate=1000.0)),
        (0.025, 0.005, 0.5, startup_programme()),
        (0.025, 0.005, 0.5, LOGARITHMIC),
        (0.1, 2.0, 1.0, LOGARITHMIC),
    ],
)
def test_it_agrees_with_an_integrator_at_ten_digits(a, b, m, programme):
    found = structure_along(refined(programme.history(), a, b, m), a, b, m, [0.8]).value[0]
    # The promise is 1e-6; four Gauss points an interval keep a hundredth of it.
    assert np.abs(found - integrated(programme, a, b, m, 0.8)).max() < 1e-8


def test_the_ramp_quadrature_is_of_at_least_fourth_order():
    errors = []
    for points in (3, 6):  # long intervals, uncut, so that the error is seen above rounding
        at = tuple(100.0 * np.arange(1, points + 1) / points)
        piece = Piece(kind="up", duration=100.0, start=10.0, end=110.0, course="linear", points=at)
        programme = Programme(pieces=(piece,))
        found = structure_along(programme.history(), 0.02, 0.002, 1.0, [1.0]).value[0][-1]
        errors.append(abs(found - integrated(programme, 0.02, 0.002, 1.0, 1.0)[-1]))
    assert errors[0] > 1e-7  # else there is nothing to compare
    assert errors[0] / errors[1] > 2.0**4


def test_stiff_and_long_histories_neither_overflow_nor_forget_wrongly():
    programme = Programme(
        pieces=(
            Piece(kind="shear", duration=1e5, start=1000.0, end=1000.0, points=(1e5,)),
            Piece(kind="rest", duration=1e6, start=0.0, end=0.0, points=(1e6,)),
            Piece(kind="shear", duration=1e-3, start=1000.0, end=1000.0, points=(1e-3,)),
        )
    )
    found = structure_along(programme.history(), 0.1, 1.0, 1.0, [0.5]).value[0]
    k = 0.1 + 1000.0
    exact = [0.1 / k, 1.0, 0.1 / k + (1.0 - 0.1 / k) * np.exp(-k * 1e-3)]
    assert found == pytest.approx(exact, rel=1e-12)  # rounding of exponents up to 1e8 that are forgotten


def test_sets_of_parameters_and_runs_do_not_disturb_each_other():
    histories = [loop_programme().history(), step_test_programme().history(), LOGARITHMIC.history()]
    joined = join(histories)
    kinetics = np.array([[0.025, 0.005, 0.5], [0.1, 0.02, 1.0]])
    starts = np.array([0.8, 0.3, 0.6])
    together = structure_along(joined, *kinetics.T, starts).value
    for row, one in enumerate(kinetics):
        apart = np.concatenate([structure_along(h, *one, [s]).value[0] for h, s in zip(histories, starts, strict=True)])
        assert together[row] == pytest.approx(apart, rel=1e-12)  # the same sums, begun elsewhere


@pytest.mark.parametrize("kinetics", [(0.025, 0.005, 0.5), (0.1, 0.02, 1.0), (0.3, 0.2, 0.9)])
def test_derivatives_are_those_of_central_differences(kinetics):
    history = join([loop_programme().history(), step_test_programme().history(), LOGARITHMIC.history()])
    history = refined(history, *kinetics)
    point = np.array([*kinetics, 0.8, 0.3, 0.6])

    def value(at):
        return structure_along(history, *at[:3], at[3:]).value[0]

    found = structure_along(history, *point[:3], point[3:], derivatives=(*KINETICS, "by_start"))
    for index, by in enumerate((found.by_build_up, found.by_breakdown, found.by_exponent)):
        step = np.zeros(6)
        step[index] = 1e-5 * point[index]
        slope = (value(point + step) - value(point - step)) / (2.0 * step[index])
        # Rounding over the step, 1e-16/1e-5, and the third derivative times the step squared, 1e-10: both below 1e-8 of the largest.
        assert np.abs(slope - by[0]).max() < 1e-8 * max(np.abs(by).max(), 1.0 / point[index])
    step = np.array([0.0, 0.0, 0.0, 0.1, 0.1, 0.1])
    # Linear in the start: differences are exact to rounding over the step.
    assert (value(point + step) - value(point - step)) / 0.2 == pytest.approx(found.by_start[0], abs=1e-13)


def test_equilibrium_is_where_the_structure_ends_and_has_its_derivatives():
    rate = np.array([0.1, 1.0, 100.0])
    a, b, m = (np.array([[value]]) for value in (0.025, 0.005, 0.5))
    value, *by = equilibrium_points(rate, a, b, m)
    assert value[0] == pytest.approx(0.025 / (0.025 + 0.005 * rate**0.5), rel=1e-15)
    for index, found in enumerate(by):
        step = [np.zeros((1, 1)), np.zeros((1, 1)), np.zeros((1, 1))]
        size = 1e-5 * float((a, b, m)[index][0, 0])
        step[index] = np.array([[size]])
        up = equilibrium_points(rate, a + step[0], b + step[1], m + step[2])[0]
        down = equilibrium_points(rate, a - step[0], b - step[1], m - step[2])[0]
        assert found[0] == pytest.approx(((up - down) / (2.0 * size))[0], rel=1e-8, abs=1e-9)  # as above


def test_a_cut_history_is_the_same_history():
    history = loop_programme().history()
    cut = history.cut({int(history.ramps[0]): np.array([0.25, 0.5])})
    assert cut.duration.sum() == pytest.approx(history.duration.sum(), rel=1e-15)
    assert cut.duration.size == history.duration.size + 2
    same = structure_along(history, 0.025, 0.005, 0.5, [0.8]).value
    assert structure_along(cut, 0.025, 0.005, 0.5, [0.8]).value == pytest.approx(same, abs=1e-9)
    assert replace(cut).recorded.tolist() != history.recorded.tolist()
