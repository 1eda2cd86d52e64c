"""Loop areas of loads are combined only where the loads were measured alike."""

import pytest
from thixotropy.loop_runs import single_loop

import rheokit as rk
from rheokit.base.run import Batch
from rheokit.characteristics import CHARACTERISTICS, combine_measured, measure


def measured(*runs):
    return measure(Batch(name="B26-000", runs={"loop": runs}, metadata={}), CHARACTERISTICS["loop_area"], test="loop", step=None, at={})


def test_loads_of_one_method_are_combined():
    loads = measured(single_loop(1), single_loop(2))
    combined = combine_measured(loads, None)
    values = [load.estimate.value for load in loads]
    assert min(values) < combined.value < max(values)
    assert combined.conditions["rest_time"].value == 300.0


@pytest.mark.parametrize(
    ("change", "condition"),
    [({"rest": 60.0}, "rest_time"), ({"ramp_duration": 60.0}, "ramp"), ({"top_rate": 80.0}, "highest_rate"), ({"points": 30}, "points")],
)
def test_loads_of_unlike_methods_are_refused(change, condition):
    loads = measured(single_loop(1), single_loop(2, **change))
    with pytest.raises(rk.ComparisonError, match=rf"loop_area: the condition {condition} differs"):
        combine_measured(loads, None)
