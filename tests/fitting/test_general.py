"""Laws without a grid: several starts and solvers, and what is said when they disagree."""

import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest
from reference_data import reference

import rheokit as rk
from rheokit.fitting import fit as fit_module
from rheokit.fitting import general
from rheokit.fitting.request import request
from rheokit.fitting.solvers import solver_ends
from rheokit.fitting.weighting import weighting_of

X = np.linspace(0.0, 10.0, 21)


def sine(lower=-np.inf, upper=np.inf):
    return rk.Law(
        name="sine",
        parameters=(rk.Parameter("a"), rk.Parameter("w", lower=lower, upper=upper)),
        value=lambda x, a, w: a * np.sin(w * x),
        jacobian=lambda x, a, w: np.column_stack([np.sin(w * x) + 0.0 * a, a * x * np.cos(w * x)]),
    )


def logarithm():
    return rk.Law(
        name="logarithm",
        parameters=(rk.Parameter("a"), rk.Parameter("b")),
        value=lambda x, a, b: a * np.log(x + b),
        jacobian=lambda x, a, b: np.column_stack([np.log(x + b) + 0.0 * a, a / (x + b)]),
    )


def checks(fit):
    return {finding.check: finding for finding in fit.findings}


def test_stormer_viscometer_is_a_law():
    known = reference("stormer_viscometer")
    law = rk.Law(
        name="stormer",
        parameters=(rk.Parameter("b1"), rk.Parameter("b2")),
        value=lambda x, b1, b2: b1 * x[:, 0] / (x[:, 1] - b2),
        jacobian=lambda x, b1, b2: np.column_stack([x[:, 0] / (x[:, 1] - b2) + 0.0 * b1, b1 * x[:, 0] / (x[:, 1] - b2) ** 2]),
    )
    fit = rk.fit_law(np.column_stack([known["viscosity"], known["weight"]]), known["time"], law, start={"b1": 20.0, "b2": 0.0})
    # Values and sums to half a unit of the last digit printed; the printed errors come from an iteration stopped at 1e-5 of the offset.
    for name in ("b1", "b2"):
        assert fit.parameters[name].value == pytest.approx(known["parameters"][name], abs=5.1e-6)
        assert fit.parameters[name].standard_error == pytest.approx(known["standard_errors"][name], rel=1e-5)
    assert fit.sum_of_squares == pytest.approx(known["residual_sum_of_squares"], abs=5.1e-5)
    assert fit.spread.scale == pytest.approx(known["residual_sd"], abs=5.1e-6)
    assert fit.degrees_of_freedom == known["degrees_of_freedom"]


def test_a_trial_step_without_numbers_is_refused_and_not_fatal():
    # From b = 0.6 full steps go to b < 0, where the logarithm is no number.
    noise = 1e-3 * np.random.default_rng(5).standard_normal(X.size)
    fit = rk.fit_law(X, 2.0 * np.log(X + 0.1) + noise, logarithm(), start={"a": 9.0, "b": 0.6})
    assert fit.converged
    for name, truth in (("a", 2.0), ("b", 0.1)):
        assert abs(fit.parameters[name].value - truth) < 4.0 * fit.parameters[name].standard_error


def test_a_start_in_the_wrong_valley_is_replaced_and_said():
    noise = 0.05 * np.random.default_rng(6).standard_normal(X.size)
    # w = 10 is far from the true 1.2 among the many valleys of a sine; a tenth of it is near.
    fit = rk.fit_law(X, 3.0 * np.sin(1.2 * X) + noise, sine(0.0), start={"a": 3.0, "w": 10.0})
    assert fit.values == pytest.approx([3.0, 1.2], abs=0.1)
    assert str(checks(fit)["start_replaced"]).startswith("the descent from the start ended higher; the answer was found from 0.1 times")
    assert "ended in other places with a larger sum of squares; the lowest is kept" in str(checks(fit)["starts_disagree"])


def test_two_terms_that_change_places_are_said_and_the_ones_like_the_start_kept():
    law = rk.Law(
        name="two_falls",
        parameters=(rk.Parameter("a", lower=0.0), rk.Parameter("b", lower=0.0)),
        value=lambda x, a, b: np.exp(-a * x) + np.exp(-b * x),
        jacobian=lambda x, a, b: np.column_stack([-x * np.exp(-a * x), -x * np.exp(-b * x)]),
    )
    y = np.exp(-0.2 * X) + np.exp(-2.0 * X) + 1e-3 * np.random.default_rng(7).standard_normal(X.size)
    one, other = (rk.fit_law(X, y, law, start=start) for start in ({"a": 0.1, "b": 1.0}, {"a": 1.0, "b": 0.1}))
    assert one.values == pytest.approx(other.values[::-1], rel=1e-6)
    assert one.values == pytest.approx([0.2, 2.0], rel=0.02)


def test_bounds_hold_for_every_solver():
    y = 3.0 * np.sin(1.2 * X)
    fit = rk.fit_law(X, y, sine(2.0, 3.0), start={"a": 3.0, "w": 2.5})
    assert 2.0 <= fit.parameters["w"].value <= 3.0
    grid = np.linspace(2.0, 3.0, 20001)
    waves = np.sin(grid[:, None] * X)
    lowest = (y @ y - (waves @ y) ** 2 / (waves**2).sum(axis=1)).min()
    assert fit.sum_of_squares <= lowest * (1.0 + 1e-9)


def _ends(law, y, start, bounds=None):
    asked = request(X, y, law, fixed=None, bounds=bounds, start=start)
    equal = weighting_of("absolute", floor=0.0, scale="estimated", kept=np.ones(X.size, dtype=bool), unit="")
    return dict(solver_ends(asked, equal, "here", np.array(list(start.values()))))


def test_each_solver_passes_by_points_without_numbers():
    ends = _ends(logarithm(), 2.0 * np.log(X + 0.1), {"a": 9.0, "b": 0.001})
    assert [name.removeprefix("here by ") for name in ends] == [
        "Levenberg-Marquardt", "a trust region", "a simplex and Levenberg-Marquardt"
    ]  # fmt: skip
    for end in ends.values():
        assert end == pytest.approx([2.0, 0.1], rel=1e-6)
    # A start without numbers leads nowhere, and is not fatal either.
    for end in _ends(logarithm(), 2.0 * np.log(X + 0.1), {"a": 1.0, "b": -5.0}).values():
        assert np.isfinite(end).all()


def test_no_solver_looks_outside_the_bounds():
    law, seen = sine(1.0, 1.15), []
    watched = replace(law, value=lambda x, a, w: seen.append(w) or law.value(x, a, w))
    ends = _ends(watched, 3.0 * np.sin(1.2 * X), {"a": 3.0, "w": 1.05}, {"w": (1.0, 1.15)})
    assert len(ends) == 3
    assert len(seen) > 10
    assert 1.0 <= min(seen) <= max(seen) <= 1.15


def _modules_after(statement):
    code = (
        "import sys, numpy as np, rheokit as rk\nx = np.linspace(0.1, 10.0, 21)\n"
        "law = rk.Law(name='vogel', parameters=(rk.Parameter('a'), rk.Parameter('b'), rk.Parameter('c')),\n"
        "    value=lambda x, a, b, c: a * np.exp(b / (x + c)),\n"
        "    jacobian=lambda x, a, b, c: np.exp(b / (x + c))[:, None]\n"
        "    * np.column_stack([1.0 + 0.0 * x, a / (x + c), -a * b / (x + c) ** 2]))\n"
        f"{statement}\nprint('scipy.optimize' in sys.modules)"
    )
    return subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True).stdout.strip()


def test_scipy_is_imported_for_a_law_of_the_callers_that_needs_it_unless_forbidden():
    hard = "y = 2.0 * np.exp(9.0 / (x + 3.0)); fit = rk.fit_law(x, y, law, start={'a': 1e-9, 'b': 1e3, 'c': 1e3}"
    assert _modules_after(hard + ")") == "True"
    assert _modules_after(hard + ", other_solvers=False)") == "False"


def test_our_own_laws_wait_for_scipy_only_when_told(monkeypatch):
    asked, own = [], fit_module.solve
    monkeypatch.setattr(fit_module, "solve", lambda *given: replace(own(*given), converged=False))
    monkeypatch.setattr(general, "solve", lambda *given: replace(own(*given), converged=False))
    monkeypatch.setattr(general, "solver_ends", lambda *given: asked.append(given[2]) or iter(()))
    curve = rk.FlowCurve(X + 0.1, 3.0 + X)
    assert not rk.fit_flow_curve(curve, "casson").converged
    assert asked == []
    assert not rk.fit_flow_curve(curve, "casson", other_solvers=True).converged
    assert asked[0] == "the start"
