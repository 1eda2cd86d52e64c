"""One geometry an export, wherever it is written; two that disagree are refused."""

from __future__ import annotations

import numpy as np
import pytest

import rheokit as rk
from rheokit.base.errors import ReadError
from rheokit.reading.geometries import settle_geometry

CONE = rk.ConePlate(radius=0.0125, angle=np.pi / 90.0)
WORDS = {"Geometry": "cone-plate", "Cone radius": "12.5 mm", "Cone angle": "2 °"}


def test_the_places_that_agree_are_named_together():
    found = settle_geometry(WORDS, {"the layout file": CONE, "the batch file": None}, "run.csv")
    assert (found.geometry, found.where, found.problem) == (CONE, "the preamble and the layout file", "")
    assert settle_geometry({}, {"the layout file": None}, "run.csv").geometry is None


@pytest.mark.parametrize("words", [{"Cone angle": "1 °"}, {"Cone radius": "25 mm"}])
def test_two_geometries_that_disagree_are_refused(words):
    with pytest.raises(
        ReadError, match=r"^run\.csv: the preamble says cone-plate \(.*\), the batch file says cone-plate \(radius 12\.5 mm, a"
    ):
        settle_geometry(WORDS | words, {"the batch file": CONE}, "run.csv")


def test_another_kind_is_refused_even_where_the_preamble_s_is_incomplete():
    plates = rk.ParallelPlates(radius=0.0125, gap=0.001)
    message = r"^run\.csv: the preamble says cone-plate, the layout file says parallel plates \(.*\); find out which was used, and mend"
    with pytest.raises(ReadError, match=message):
        settle_geometry({"Geometry": "cone-plate"}, {"the layout file": plates}, "run.csv")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('kind = "cone plate"', r"layout\.toml, geometry\.kind: unknown geometry 'cone plate'; did you mean 'cone-plate'\?"),
        ('radius = "1 mm"', r"layout\.toml, geometry\.kind: it names no kind; known are cone-plate, parallel plates, concentric cylinders"),
        ('kind = "cone-plate"\nradus = "1 mm"', r"layout\.toml, geometry\.radus: unknown key; did you mean 'radius'\?"),
        ('kind = "cone-plate"\nradius = 12.5', r"layout\.toml, geometry\.radius: it is 12\.5, not a text; write it in quotes"),
        (
            'kind = "cone-plate"\nradius = "12.5 mm"',
            r"layout\.toml, geometry: the angle of the cone is not given; .*; its keys are radius, angle$",
        ),
        (
            'kind = "parallel plates"\nradius = "25 mm"\ngap = "1 Pa"',
            r"layout\.toml, geometry: gap: 'Pa' is not a unit of gap; write one such as 'mm' or 'm'; its keys are radius, gap$",
        ),
    ],
)
def test_mistakes_in_a_table_are_named(write, text, message):
    with pytest.raises(ReadError, match=message):
        rk.read_run(write("t [s],τ [Pa]\n1,1\n"), layout=write("format = 1\n[geometry]\n" + text, "layout.toml"))


def test_an_end_factor_may_be_a_number(write):
    cylinders = 'kind = "concentric cylinders"\ninner_radius = "10 mm"\nouter_radius = "11 mm"\nlength = "30 mm"\nend_factor = 1.2'
    run = rk.read_run(write("t [s],Speed [rad/s],M [mN·m]\n1,1,1\n"), layout=write("format = 1\n[geometry]\n" + cylinders, "layout.toml"))
    # rate over speed at a ratio of 1.10: 10.5238095, tests/reference_data/geometry_factors.json
    assert run.steps[0].shear_rate[0] == pytest.approx(10.5238095, rel=5e-9)


TABLE = "t [s],Speed [rad/s],M [mN·m]\n1,1,1\n2,1,1\n"
BATCH = 'format = 1\n[batch]\nid = "B1"\n{usual}\n[[run]]\nfile = "a.csv"\ntest = "loop"\nload = 1\n{own}\n'
WIDE = 'geometry = { kind = "cone-plate", radius = "25 mm", angle = "1 °" }'
USUAL = '[geometry]\nkind = "cone-plate"\nradius = "12.5 mm"\nangle = "2 °"'


@pytest.mark.parametrize(("usual", "own", "degrees"), [(USUAL, "", 2.0), ("", WIDE, 1.0), (USUAL, WIDE, 1.0)])
def test_a_batch_file_gives_a_geometry_to_all_runs_or_to_one(write, usual, own, degrees):
    folder = write(BATCH.format(usual=usual, own=own), "batch.toml").parent
    write(TABLE, "a.csv")
    (run,) = rk.read_batch(folder).runs["loop"]
    np.testing.assert_allclose(run.steps[0].shear_rate, 180.0 / np.pi / degrees, rtol=1e-14)


def test_a_batch_file_that_contradicts_a_preamble_makes_the_run_unreadable(write):
    folder = write(BATCH.format(usual=USUAL, own=""), "batch.toml").parent
    write("Geometry,cone-plate\nCone radius,25 mm\nCone angle,1 °\n\n" + TABLE, "a.csv")
    with pytest.raises(
        ReadError, match=r"none of its exports can be read: a\.csv: the preamble says cone-plate \(radius 25 mm, angle 1 °\), the b"
    ):
        rk.read_batch(folder)


@pytest.mark.parametrize("key", ["batch", "run"])
def test_a_batch_file_may_name_a_layout_file(write, key):
    line = 'layout = "mine.toml"'
    folder = write(BATCH.format(usual=line if key == "batch" else "", own=line if key == "run" else ""), "batch.toml").parent
    write('format = 1\n[columns]\nshear_rate = { column = "Result 1", unit = "1/s" }\n', "mine.toml")
    write("t [s],τ [Pa],Result 1\n1,1,5\n", "a.csv")
    assert rk.read_batch(folder).runs["loop"][0].steps[0].shear_rate.tolist() == [5.0]


@pytest.mark.parametrize(
    ("usual", "own", "message"),
    [
        (
            'layout = "../mine.toml"',
            "",
            r"batch\.toml, batch\.layout: '\.\./mine\.toml' is not inside the folder; name a file of the folder",
        ),
        ("", 'layout = "absent.toml"', r"absent\.toml: there is no such file"),
        ("", 'geometry = "cone-plate"', r"batch\.toml, run 1, geometry: it is 'cone-plate', not a table; write \{ kind = \"cone-plate\""),
        ('[geometry]\nkind = "vane"', "", r"batch\.toml, geometry\.kind: unknown geometry 'vane'; known are"),
        ("", WIDE.replace("radius", "radus"), r"batch\.toml, run 1, geometry\.radus: unknown key; did you mean 'radius'\?"),
    ],
)
def test_mistakes_in_a_batch_file_are_named(write, usual, own, message):
    folder = write(BATCH.format(usual=usual, own=own), "batch.toml").parent
    write(TABLE, "a.csv")
    with pytest.raises(ReadError, match=message):
        rk.read_batch(folder)
