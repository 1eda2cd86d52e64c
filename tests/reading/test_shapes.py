"""Whatever the columns hold, a step gets a kind or a doubt, and nothing crashes or warns."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from rheokit.base.run import STEP_KINDS
from rheokit.reading.steps import divide_into_steps

NUMBERS = st.sampled_from([np.nan, 0.0, -0.0, 1.0, -1.0, 1e-300, -1e300, 1e300, 5e-324, 100.0, 100.5, 99.5, 0.01, 2.0])
NAMES = ("time", "shear_rate", "shear_stress", "shear_strain", "temperature", "storage_modulus", "angular_frequency", "torque")


@given(data=st.data(), names=st.sets(st.sampled_from(NAMES), min_size=1), rows=st.integers(1, 24))
@settings(max_examples=300, deadline=None)
def test_any_columns_are_divided_and_told(data, names, rows):
    columns = {name: np.array(data.draw(st.lists(NUMBERS, min_size=rows, max_size=rows))) for name in sorted(names)}
    labels = data.draw(st.one_of(st.none(), st.lists(st.sampled_from("123"), min_size=rows, max_size=rows)))
    steps, _ = divide_into_steps(columns, labels, range(2, rows + 2))
    assert sum(map(len, steps)) == rows
    assert all(step.kind in STEP_KINDS for step in steps)


@given(st.lists(st.floats(min_value=1e-3, max_value=1e3), min_size=1, max_size=40), st.sampled_from([2.0, 0.25, 1024.0]))
@settings(max_examples=100, deadline=None)
def test_the_kind_does_not_depend_on_the_scale_of_the_stress(stresses, factor):
    # Powers of two scale floats exactly.
    time = np.arange(1.0, len(stresses) + 1.0)
    rates = np.geomspace(0.1, 100.0, len(stresses))
    one, other = (
        divide_into_steps({"time": time, "shear_rate": rates, "shear_stress": scale * np.array(stresses)}, None, range(len(stresses)))[0]
        for scale in (1.0, factor)
    )
    assert [(step.kind, step.controlled) for step in one] == [(step.kind, step.controlled) for step in other]
