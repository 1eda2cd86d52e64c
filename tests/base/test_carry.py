"""What holds arrays and mappings arrives in another process whole, checked and still read-only."""

from __future__ import annotations

import copy
import pickle
from types import MappingProxyType

import numpy as np
import pytest

from rheokit.base.curve import FlowCurve, Leg
from rheokit.base.estimate import Condition, Estimate, Source
from rheokit.base.run import Batch, Run, Step

ESTIMATE = Estimate(
    name="viscosity",
    value=3.8,
    unit="Pa·s",
    standard_error=0.05,
    degrees_of_freedom=8.0,
    method="interpolated",
    conditions={"shear_rate": Condition(value=100.0, unit="1/s")},
    components={"fit": 0.03, "load": 0.04},
)
STEP = Step(number=1, kind="up", controlled="rate", columns={"time": [0.0, 1.0], "shear_rate": [1.0, np.nan]})
RUN = Run(name="loop_1", steps=(STEP,), metadata={"gap": "0.05"}, findings=(), source=Source(sha256="a" * 64, run="loop_1"))
BATCH = Batch(name="b", runs={"loop": (RUN,)}, metadata={"product": "p"}, entered=(ESTIMATE,))


def _by_pickle(held):
    return pickle.loads(pickle.dumps(held))


@pytest.mark.parametrize("carry", [_by_pickle, copy.deepcopy], ids=["pickled", "copied"])
class TestCarried:
    def test_an_estimate_is_equal(self, carry):
        back = carry(ESTIMATE)
        assert back == ESTIMATE
        assert back is not ESTIMATE
        assert isinstance(back.conditions, MappingProxyType)
        assert isinstance(back.components, MappingProxyType)

    def test_curves_stay_read_only(self, carry):
        for held in (FlowCurve([1.0, 2.0], [3.0, 4.0], name="n"), Leg([0.0, 1.0], [1.0, 2.0], [3.0, 4.0], name="n")):
            back = carry(held)
            assert back.name == "n"
            assert back.shear_rate.tolist() == [1.0, 2.0]
            assert not back.shear_rate.flags.writeable
            assert not back.shear_stress.flags.writeable

    def test_a_batch_comes_with_its_runs_and_steps(self, carry):
        back = carry(BATCH)
        assert back.entered == (ESTIMATE,)
        step = back.runs["loop"][0].step("up")
        assert np.array_equal(step.shear_rate, STEP.shear_rate, equal_nan=True)
        assert not step.shear_rate.flags.writeable
        assert isinstance(step.columns, MappingProxyType)
        assert back.runs["loop"][0].metadata == {"gap": "0.05"}
