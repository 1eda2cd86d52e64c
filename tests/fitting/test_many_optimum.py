"""No curve ends worse than with a library's own fit from the same start."""

import numpy as np
import pytest
from fitting.many_curves import RATES, TRUTH, curves
from scipy.optimize import least_squares

import rheokit as rk


@pytest.mark.parametrize(("name", "count"), [("herschel_bulkley", 150), ("cross", 80), ("carreau_yasuda", 40)])
def test_bounded_least_squares_finds_nothing_lower(name, count):
    law = rk.MODELS[name]
    stresses, deviations = curves(name, count, seed=9)
    many = rk.fit_many(RATES, stresses, name, weighting=deviations)
    lower, upper = (np.array([getattr(parameter, side) for parameter in law.parameters]) for side in ("lower", "upper"))
    for index, (stress, deviation) in enumerate(zip(stresses, deviations, strict=True)):
        guess = law.guess(RATES, stress)
        best = np.inf
        for start in ([guess[parameter] for parameter in law.names], TRUTH[name]):
            begin = np.clip(start, lower + 1e-9, np.where(np.isfinite(upper), upper - 1e-9, np.inf))
            with np.errstate(all="ignore"):
                other = least_squares(
                    lambda p, stress=stress, deviation=deviation: (stress - law.value(RATES, *p)) / deviation,
                    begin,
                    jac=lambda p, deviation=deviation: -law.jacobian(RATES, *p) / deviation[:, None],
                    bounds=(lower, upper),
                    x_scale="jac",
                )
            best = min(best, 2.0 * other.cost)
        # The other program stops when a step gains less than 1e-8 of the sum of squares.
        assert many.sum_of_squares[index] <= best * (1.0 + 1e-6), index
