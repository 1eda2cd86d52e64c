"""A number that stands for a missing value is never taken for a measurement."""

import pytest

import rheokit as rk

HEAD = "Time [s],Shear rate [1/s],Shear stress [mPa]\n"


def written(tmp_path, cell):
    path = tmp_path / "loop_load1.csv"
    rows = [f"{row},{row},{20 * row + 1}" for row in range(1, 12)]
    rows[4] = f"5,5,{cell}"
    path.write_text(HEAD + "\n".join(rows) + "\n", encoding="utf-8")
    return rk.read_run(path)


@pytest.mark.parametrize("cell", ["-9999", "-999", "999999", "1e+38", "9.9e37", "-1e30"])
def test_a_filler_is_invalid_and_named(tmp_path, cell):
    (finding,) = [finding for finding in written(tmp_path, cell).findings if finding.check == "filler"]
    assert (finding.severity, finding.rows) == ("invalid", (6, 6))
    assert "in line 6, which looks like a mark for a missing value (1 of 11 rows)" in str(finding)


@pytest.mark.parametrize("cell", ["101", "-998", "1000", "99999.5", "123456"])
def test_other_numbers_are_not(tmp_path, cell):
    assert [finding for finding in written(tmp_path, cell).findings if finding.check == "filler"] == []
