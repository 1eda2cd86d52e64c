"""The laws as written for many curves: the same columns, derivatives and errors as the laws themselves."""

import numpy as np
import pytest
from fitting.many_curves import RATES, TRUTH

import rheokit as rk
from rheokit.fitting.many import _plan
from rheokit.fitting.many_batch import Batch
from rheokit.fitting.many_general import kernel_of
from rheokit.fitting.many_points import points_of

CURVES = 7
every_law = pytest.mark.parametrize("name", TRUTH)


def batch_of(name):
    """Return a batch, and parameters (p, B) spread around the truth."""
    law = rk.MODELS[name]
    generator = np.random.default_rng(3)
    point = np.array(TRUTH[name])[:, None] * np.exp(0.1 * generator.standard_normal((len(law.names), CURVES)))
    rates = RATES * np.exp(0.1 * generator.standard_normal((CURVES, 30)))
    stresses = law.value(rates, *point[:, :, None])
    plan = _plan(law, "absolute", fixed=None, bounds=None, start=None, floor=0.0, scale="estimated")
    points = points_of(rates, stresses, generator.uniform(0.5, 2.0, (CURVES, 30)), first=0, follows=False)
    kernel = kernel_of(plan)
    assert kernel is not None
    return Batch(plan, points, kernel), point


def place_of(batch, point):
    """Return coordinates (s, B) and coefficients (q, B) at parameters, by solving for what reproduces the curve."""
    theta = batch.kernel.coordinates(point, batch.centre)
    with np.errstate(divide="ignore"):  # a bound of 0 is minus infinity in a logarithm
        view = batch._view(batch.points.weight)
    columns = np.stack(batch.kernel.evaluate(view.parts[0], theta)[0])
    values = [np.linalg.lstsq(columns[:, :, curve].T, view.target[:, curve], rcond=None)[0] for curve in range(CURVES)]
    return view, theta, np.array(values).T


@every_law
def test_columns_make_the_curve_and_coordinates_lead_back(name):
    batch, point = batch_of(name)
    view, theta, values = place_of(batch, point)
    columns = np.stack(batch.kernel.evaluate(view.parts[0], theta)[0])
    assert np.einsum("kmb,kb->mb", columns, values) == pytest.approx(view.target, rel=1e-12)
    # Rounding times the condition of the columns, which is below 1e4.
    assert batch.kernel.point(theta, list(values), batch.centre) == pytest.approx(point, rel=1e-10)


@every_law
def test_slopes_are_the_derivatives_by_the_coordinates(name):
    batch, point = batch_of(name)
    view, theta, values = place_of(batch, point)
    kernel, part, step = batch.kernel, view.parts[0], 1e-6

    def curve(coordinates):
        return np.einsum("kmb,kb->mb", np.stack(kernel.evaluate(part, coordinates)[0]), values)

    slopes, factors = kernel.evaluate(part, theta)[1], kernel.factors(theta, values)
    assert len(slopes) == len(factors) == len(theta)
    for index, (slope, factor) in enumerate(zip(slopes, factors, strict=True)):
        moved = np.eye(len(theta))[index][:, None] * step
        central = (curve(theta + moved) - curve(theta - moved)) / (2.0 * step)
        # Central differences: the step squared, and rounding of the two parts of the curve over the step.
        assert slope * factor == pytest.approx(central, rel=1e-6, abs=1e-9 * np.abs(part.target).max())


@every_law
def test_variances_are_those_by_the_law_itself(name):
    batch, point = batch_of(name)
    view, theta, values = place_of(batch, point)
    kernel, law, part = batch.kernel, batch.plan.law, view.parts[0]
    columns, slopes = kernel.evaluate(part, theta)
    own = np.stack([*columns, *(slope * factor for slope, factor in zip(slopes, kernel.factors(theta, values), strict=True))])
    covariance = np.linalg.inv(np.einsum("imb,jmb->bij", own, own)).transpose(1, 2, 0)
    place = np.concatenate([values, theta])
    variances, opened = kernel.spread(place, covariance, np.zeros(place.shape, dtype=bool), batch.centre)
    assert not opened.any()
    for curve in range(CURVES):
        jacobian = law.complex_step_jacobian(batch.points.x[:, curve], *point[:, curve]) * view.weight[:, curve, None]
        # The condition squared of these derivatives, up to 1e8, times rounding.
        assert variances[:, curve] == pytest.approx(np.diag(np.linalg.inv(jacobian.T @ jacobian)), rel=1e-6)


@every_law
def test_nodes_of_the_grid_are_the_columns_there(name):
    batch, point = batch_of(name)
    view, _, _ = place_of(batch, point)
    kernel, part = batch.kernel, view.parts[0]
    axes = kernel.axes(view)
    if not axes:
        return
    mesh = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, len(axes))
    shared = kernel.basis(view.x[:, 0], mesh)
    for node, columns in enumerate(kernel.nodes(part, mesh)):
        theta = np.repeat(mesh[node][:, None], CURVES, axis=1)
        for column, expected in zip(columns, kernel.evaluate(part, theta)[0], strict=True):
            assert column == pytest.approx(expected, rel=1e-11)  # some twenty multiplications in a row
        assert shared[node] * view.weight[:, :1] == pytest.approx(np.stack([column[:, 0] for column in columns], axis=1), rel=1e-11)
