"""One load counted twice is told by what was measured, not by what was set."""

import numpy as np
import pytest
from yielding.made import bent, run

from rheokit.base.run import Batch
from rheokit.release.bearing import findings_by_run
from rheokit.release.specification_file import read_specification


@pytest.mark.parametrize(("relative", "copied"), [((0.01, 0.02), False), ((0.01, 0.01), True)])
def test_loads_on_one_programme_of_stress_hold_the_same_stresses_as_they_should(write_specification, specification_text, relative, copied):
    steps = [bent(relative=size) for size in relative]
    assert np.array_equal(steps[0].shear_stress, steps[1].shear_stress)
    loads = tuple(run(step, name=f"ramp_load{number}.csv") for number, step in enumerate(steps, 1))
    batch = Batch(name="B", runs={"ramp": loads}, metadata={})
    found = findings_by_run(batch, read_specification(write_specification(specification_text)))
    for load in loads:
        said = [str(finding) for finding in found[load.name] if finding.check == "copied_load"]
        assert bool(said) == copied
        assert all("hold the same measured numbers: one load counted twice" in words for words in said)
