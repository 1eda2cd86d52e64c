"""Recorded loads: the course of the rate between the points is found again, with and without a column that says when a step began."""

import numpy as np
import pytest

import rheokit as rk
from rheokit import virtual
from rheokit.thixotropy.kinetics.structure import refined, structure_along

INK = virtual.slate_grey_ink()
KINETICS = INK.build_up_rate, INK.breakdown_rate, INK.breakdown_exponent
LOGARITHMIC = virtual.Protocol(
    name="logarithmic",
    segments=(
        virtual.constant(1, 100.0, 60.0, virtual.evenly(60.0, 20)),
        virtual.constant(2, 0.0, 100.0, virtual.evenly(100.0, 5)),
        virtual.ramp(3, (0.1, 100.0), 120.0, virtual.evenly(120.0, 40), course="logarithmic"),
        virtual.ramp(4, (100.0, 0.1), 120.0, virtual.evenly(120.0, 40, at="starts"), course="logarithmic"),
    ),
)
RUNS = [
    (virtual.loop_protocol(), {1: "shear", 2: "rest", 3: "up", 4: "hold", 5: "down", 6: "shear"}),
    (virtual.steady_protocol(), {1: "shear", 2: "rest", 3: "steady"}),
    (virtual.recovery_protocol(), {1: "rest", 2: "shear", 3: "recovery"}),
    (virtual.startup_protocol(), {1: "shear", 2: "rest", 3: "startup"}),
    (LOGARITHMIC, {1: "shear", 2: "rest", 3: "up", 4: "down"}),
]


def steps_of(history, kinds, *, told):
    steps = []
    for number, kind in kinds.items():
        rows = history.step == number
        columns = {"time": history.time[rows], "shear_rate": history.apparent_rate[rows], "shear_stress": history.stress[rows]}
        if told:
            columns["step_time"] = history.step_time[rows]
        steps.append(rk.Step(number=number, kind=kind, controlled="rate", columns=columns))
    return steps


@pytest.mark.parametrize(("protocol", "kinds"), RUNS, ids=[protocol.name for protocol, _ in RUNS])
@pytest.mark.parametrize("told", [True, False], ids=["step times told", "not told"])
def test_the_structure_along_a_record_is_that_of_the_protocol(protocol, kinds, told):
    history = virtual.simulate(INK, protocol)
    load = rk.recorded_load(steps_of(history, kinds, told=told))
    flowing = history.apparent_rate > 0.0
    assert load.history.rate == pytest.approx(history.apparent_rate[flowing], rel=1e-14)
    assert load.stress == pytest.approx(history.stress[flowing], rel=1e-14)
    found = structure_along(refined(load.history, *KINETICS), *KINETICS, [0.8]).value[0]
    # The virtual rheometer steps to 1e-9 and reads between its steps at a lower order.
    assert np.abs(found - history.structure[flowing]).max() < 1e-7


def test_strain_counts_from_the_rest():
    protocol, kinds = RUNS[3]
    history = virtual.simulate(INK, protocol)
    load = rk.recorded_load(steps_of(history, kinds, told=False))
    startup = np.array(load.kinds) == "startup"
    assert load.history.strain[startup] == pytest.approx(0.1 * history.step_time[history.step == 3], rel=1e-9)
    assert np.isinf(load.history.strain[~startup]).all()


def test_rows_that_say_nothing_are_left_out_and_counted():
    steps = steps_of(virtual.simulate(INK, virtual.recovery_protocol()), RUNS[2][1], told=True)
    stress = steps[1].shear_stress.copy()
    stress[:3] = np.nan
    steps[1] = rk.Step(number=2, kind="shear", controlled="rate", columns={**steps[1].columns, "shear_stress": stress})
    load = rk.recorded_load(steps, "batch 7")
    (finding,) = load.findings
    assert str(finding) == "3 of 120 points of batch 7 have no positive rate and stress and are left out"


def broken(**changes):
    steps = steps_of(virtual.simulate(INK, virtual.recovery_protocol()), RUNS[2][1], told=False)
    last = steps[-1]
    columns = {**last.columns, **{name: change(last.columns[name]) for name, change in changes.items() if name != "kind"}}
    steps[-1] = rk.Step(number=3, kind=changes.get("kind", "recovery"), controlled="rate", columns=columns)
    return steps


@pytest.mark.parametrize(
    ("steps", "message"),
    [
        ([], "load: no steps"),
        (broken(kind="amplitude_sweep"), "step 3 is amplitude sweep; structure kinetics need a known shear rate in every step"),
        (broken(time=lambda time: time[::-1]), r"the times of step 3 \(recovery\) do not rise"),
        (broken(time=lambda time: time - 200.0), r"step 3 \(recovery\) begins at -17\.00 s, before the end of step 2"),
        (broken(shear_rate=lambda rate: np.full_like(rate, np.nan)), r"step 3 \(recovery\) has no row with a time and a rate"),
    ],
)
def test_steps_that_tell_no_course_are_refused(steps, message):
    with pytest.raises(rk.FitError, match=message):
        rk.recorded_load(steps)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"duration": 0.0, "start": 1.0, "end": 1.0}, "give a duration and no negatives"),
        ({"duration": 1.0, "start": 1.0, "end": 2.0}, r"a constant shear piece goes from 1\.000 to 2\.000"),
        ({"duration": 1.0, "start": 0.0, "end": 2.0, "course": "logarithmic"}, "begins or ends at zero; no logarithm does"),
        ({"duration": 1.0, "start": 1.0, "end": 1.0, "points": (0.5, 0.2)}, r"do not rise from 0 to its duration, 1\.000 s"),
        ({"duration": 1.0, "start": 1.0, "end": 1.0, "points": (0.5, 2.0)}, "do not rise from 0 to its duration"),
    ],
)
def test_a_piece_that_makes_no_sense_is_refused(arguments, message):
    with pytest.raises(rk.FitError, match=message):
        rk.Piece(kind="shear", **arguments)


def test_a_programme_without_points_is_refused_and_one_with_them_shown():
    with pytest.raises(rk.FitError, match="a programme without a recorded point"):
        rk.Programme(pieces=(rk.Piece(kind="rest", duration=1.0, start=0.0, end=0.0),))
    assert [row[1] for row in rk.loop_programme().table().rows] == ["shear", "rest", "up", "hold", "down"]


def test_laws_are_declared_in_one_place():
    from rheokit.thixotropy.kinetics.laws import LINEAR, NONLINEAR  # noqa: PLC0415

    for name, law in rk.STRUCTURE_LAWS.items():
        assert law.name == name
        assert set(law.names) | set(law.held) == {*NONLINEAR, *LINEAR}
        assert "from memory" in law.source or "common practice, no source" in law.source
        assert all(parameter.meaning for parameter in law.parameters)
    with pytest.raises(rk.DeclarationError, match="holds 'speed', which is no parameter"):
        rk.StructureLaw(name="mine", held={"speed": 1.0})
    with pytest.raises(rk.DeclarationError, match=r"holds flow_index at 9\.0, outside its bounds"):
        rk.StructureLaw(name="mine", held={"flow_index": 9.0})
