"""Rework: exact where nothing is in doubt, refused where something is not known, and never without its cautions."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from rheokit.base.errors import ComparisonError
from rheokit.base.estimate import Estimate
from rheokit.comparison.addition import Addition, Sensitivity, fitted_addition, silica_by_trade
from rheokit.comparison.effects import fit_effects
from rheokit.comparison.feasible import HardLimit
from rheokit.comparison.rework import CAUTIONS, STEPS, advise_rework


def number(name, value, relative=1e-6, unit="Pa", freedom=math.inf):
    return Estimate(name=name, value=value, unit=unit, standard_error=value * relative, degrees_of_freedom=freedom, method="made")


def sensed(size, error=0.0, kind="exponential"):
    return Sensitivity(kind=kind, size=size, standard_error=error, source="made")


YIELD, THICK = HardLimit(line="yield", lower=100.0, upper=150.0, unit="Pa"), HardLimit(line="viscosity", lower=3.4, upper=4.2, unit="Pa·s")
BATCH = {"yield": number("yield_stress", 90.0), "viscosity": number("viscosity", 3.9, unit="Pa·s"), "density": number("density", 1150.0)}
SILICA = silica_by_trade(3.0, "yield", others={"viscosity": sensed(0.3)})


def test_the_smallest_amount_is_the_exact_one():
    found = advise_rework(BATCH, [YIELD, THICK], [SILICA])
    # (1 + x/3)^4 must reach 100/90; the trade's 4.0 ± 0.5 asks for more, so take the exponent as known.
    known = Addition(name="fumed silica", present=3.0, largest=0.2, effects={"yield": sensed(4.0, kind="power"), "viscosity": sensed(0.3)})
    exact = advise_rework(BATCH, [YIELD, THICK], [known])
    least = 3.0 * ((100.0 / 90.0) ** 0.25 - 1.0)
    step = 0.2 / STEPS
    assert exact.does_it
    assert least <= exact.amount <= least + step * (1.0 + 1e-9)
    assert exact.after["yield"].value == pytest.approx(90.0 * (1.0 + exact.amount / 3.0) ** 4, rel=1e-12)
    assert exact.after["viscosity"].value == pytest.approx(3.9 * math.exp(0.3 * exact.amount), rel=1e-12)
    assert found.does_it
    assert found.amount > exact.amount
    assert "trade default" in found.sources["yield"]
    assert "trade default" in str(found)


def test_let_down_is_linear_in_the_logarithm():
    thick = BATCH | {"yield": number("yield_stress", 120.0), "viscosity": number("viscosity", 4.8, unit="Pa·s")}
    solvent = Addition(name="solvent", present=42.0, largest=5.0, effects={"yield": sensed(-0.02), "viscosity": sensed(-0.06)})
    found = advise_rework(thick, [YIELD, THICK], [solvent])
    least = math.log(4.8 / 4.2) / 0.06
    assert least <= found.amount <= least + 5.0 / STEPS * (1.0 + 1e-9)


def test_no_single_addition_does_it():
    weak = BATCH | {"yield": number("yield_stress", 60.0)}
    found = advise_rework(weak, [YIELD, THICK], [SILICA])
    assert not found.does_it  # 0.2 wt % gives (1 + 0.2/3)^4 = 1.29, and 1.67 is needed
    assert found.advice.startswith("No single addition does it")
    # More silica mends the yield and spoils the viscosity: it does one and not the other.
    close = BATCH | {"viscosity": number("viscosity", 4.19, unit="Pa·s")}
    assert not advise_rework(close, [YIELD, THICK], [SILICA]).does_it


def test_a_batch_inside_needs_nothing():
    found = advise_rework(BATCH | {"yield": number("yield_stress", 120.0)}, [YIELD, THICK], [SILICA])
    assert (found.does_it, found.amount) == (True, 0.0)
    assert found.advice.startswith("Nothing to add")


def test_the_smaller_of_two_additions_is_taken():
    strong = Addition(name="organoclay", present=1.0, largest=1.0, effects={"yield": sensed(5.0), "viscosity": sensed(0.1)})
    weak = Addition(name="wax", present=1.0, largest=1.0, effects={"yield": sensed(1.0), "viscosity": sensed(0.1)})
    assert advise_rework(BATCH, [YIELD, THICK], [weak, strong]).addition == "organoclay"


def test_more_doubt_never_raises_the_probability():
    limits, shares = [YIELD, THICK], []
    for relative in (0.005, 0.02, 0.05, 0.1, 0.2):
        batch = {"yield": number("yield_stress", 90.0, relative), "viscosity": number("viscosity", 3.7, relative, unit="Pa·s")}
        shares.append(advise_rework(batch, limits, [SILICA], probability=0.999999).probability)
    # Shares of 8000 draws: twice their standard error, at most 0.011, is not a rise.
    assert all(other <= one + 0.011 for one, other in itertools.pairwise(shares))
    assert shares[-1] < 0.5


def test_what_is_not_known_is_not_assumed():
    blind = Addition(name="wax", present=1.0, largest=1.0, effects={"yield": sensed(1.0)})
    found = advise_rework(BATCH, [YIELD, THICK], [blind])
    assert not found.does_it
    assert found.left_out == ("wax is left out: what it does to viscosity is not known",)
    assert "nothing that may be added helps" in found.advice
    shown = advise_rework(BATCH, [YIELD, THICK], [SILICA])
    assert "density" not in shown.after
    assert "not known" in str(shown)


def test_it_is_never_given_without_its_cautions():
    for batch in (BATCH, BATCH | {"yield": number("yield_stress", 120.0)}, BATCH | {"yield": number("yield_stress", 50.0)}):
        text = str(advise_rework(batch, [YIELD, THICK], [SILICA]))
        assert all(caution in text for caution in CAUTIONS)
    words = " ".join(CAUTIONS)
    for wanted in (
        "safety data sheets",
        "flash point",
        "compatibility",
        "pilot",
        "At most 2 corrections",
        "EVERY line",
        "a person decides",
    ):
        assert wanted in words


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: advise_rework(BATCH, [YIELD], [SILICA], corrections=2), r"^the batch was corrected 2 times already; at most 2"),
        (lambda: advise_rework({}, [YIELD], [SILICA]), r"^yield needs a number above zero with an error"),
        (lambda: advise_rework(BATCH, [HardLimit(line="yield", lower=1.0, unit="kPa")], [SILICA]), r"measured in Pa and limited in kPa"),
        (lambda: advise_rework(BATCH, [], [SILICA]), r"^rework needs limits"),
        (
            lambda: Addition(name="fumed silica", present=3.0, largest=0.3, effects={}),
            r"^fumed silica: a step of silica is at most 0\.2",
        ),
        (lambda: silica_by_trade(0.0, "yield", others={}), r"a power law needs some of it in the batch"),
        (lambda: sensed(1.0, kind="cubic"), r"^a sensitivity is a power or exponential"),
    ],
)
def test_what_cannot_be_advised_is_refused(call, message):
    with pytest.raises(ComparisonError, match=message):
        call()


def test_fitted_sensitivities_are_the_coefficients():
    rng = np.random.default_rng(4)
    silica, resin = rng.uniform(2.5, 3.5, 12), rng.uniform(18.0, 25.0, 12)
    y = 130.0 * np.exp(1.3 * (silica - 3.0) + 0.1 * (resin - 22.0) + 0.01 * rng.standard_normal(12))
    model = fit_effects({"silica": silica, "resin": resin}, y, response="yield_stress", unit="Pa")
    resin_step = fitted_addition("resin", {"yield": model}, present=22.0, largest=2.0)
    held = resin_step.effects["yield"]
    assert (held.size, held.standard_error) == (model.coefficients[2], model.standard_errors[2])
    assert held.degrees_of_freedom == 9.0
    assert held.source == "fitted to 12 runs"
    with pytest.raises(ComparisonError, match="a sensitivity to wax needs a model of main effects"):
        fitted_addition("wax", {"yield": model}, present=1.0, largest=1.0)
