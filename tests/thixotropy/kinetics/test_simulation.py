"""The simulator against the virtual rheometer, both ways, and programmes of stress against an integrator."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

import rheokit as rk
from rheokit import virtual
from rheokit.thixotropy.kinetics import stress_control
from rheokit.thixotropy.kinetics.stress_control import StressControl

INK = virtual.slate_grey_ink()
PARAMETERS = {
    "build_up_rate": INK.build_up_rate,
    "breakdown_coefficient": INK.breakdown_rate,
    "breakdown_exponent": INK.breakdown_exponent,
    "flow_index": INK.flow_index,
    "elastic_strain": INK.elastic_strain,
    "broken_yield_stress": INK.broken_yield_stress,
    "structure_yield_stress": INK.structure_yield_stress,
    "broken_consistency": INK.broken_consistency,
    "structure_consistency": INK.structure_consistency,
    "infinite_shear_viscosity": INK.infinite_shear_viscosity,
}
GENERAL = {name: value for name, value in PARAMETERS.items() if name != "elastic_strain"}


def programme_of(protocol):
    """Return one of the virtual rheometer's protocols as a programme."""
    pieces = [
        rk.Piece(
            kind="rest" if part.is_rest else "shear", duration=part.duration, start=part.start_rate, end=part.end_rate,
            course=part.course, points=part.recorded,
        )
        for part in protocol.segments
    ]  # fmt: skip
    return rk.Programme(pieces=tuple(pieces))


def protocol_of(programme):
    """Return a programme as a protocol of the virtual rheometer."""
    segments = tuple(
        virtual.Segment(
            step=step, duration=piece.duration, start_rate=piece.start, end_rate=piece.end, course=piece.course, recorded=piece.points
        )
        for step, piece in enumerate(programme.pieces, 1)
    )
    return virtual.Protocol(name="programme", segments=segments)


PROTOCOLS = [virtual.loop_protocol(), virtual.steady_protocol(), virtual.recovery_protocol(), virtual.startup_protocol()]


@pytest.mark.parametrize("protocol", PROTOCOLS, ids=[protocol.name for protocol in PROTOCOLS])
def test_the_virtual_rheometers_protocols_give_its_history(protocol):
    history = virtual.simulate(INK, protocol)
    found = rk.simulate_structure(programme_of(protocol), "general_startup", PARAMETERS, initial_structure=0.8)
    assert found.time == pytest.approx(history.time, rel=1e-14)
    assert found.shear_rate == pytest.approx(history.apparent_rate, rel=1e-12)
    # The virtual rheometer steps to 1e-9 and reads between its steps at a lower order; the promise is 1e-6.
    assert np.abs(found.structure - history.structure).max() < 1e-7
    assert found.shear_stress == pytest.approx(history.stress, rel=1e-7, abs=1e-9)


@pytest.mark.parametrize(
    "programme",
    [
        rk.loop_programme(ramp_duration=30.0),
        rk.step_test_programme(shear_rate=500.0, rest=60.0),
        rk.startup_programme(shear_rate=0.05, rest=1000.0),
        rk.Programme(
            pieces=(
                rk.Piece(kind="up", duration=60.0, start=0.1, end=200.0, course="logarithmic", points=tuple(range(1, 61))),
                rk.Piece(kind="down", duration=60.0, start=200.0, end=0.1, course="logarithmic", points=tuple(range(1, 61))),
            )
        ),
    ],
    ids=["loop", "step test", "start-up", "logarithmic"],
)
def test_our_programmes_give_the_same_on_the_virtual_rheometer(programme):
    history = virtual.simulate(INK, protocol_of(programme), initial_structure=0.6)
    found = rk.simulate_structure(programme, "general_startup", PARAMETERS, initial_structure=0.6)
    assert np.abs(found.structure - history.structure).max() < 1e-7
    assert found.shear_stress == pytest.approx(history.stress, rel=1e-7)


STRESS = rk.Programme(
    controlled="stress",
    pieces=(
        rk.Piece(kind="stress_ramp", duration=200.0, start=10.0, end=400.0, course="linear", points=tuple(np.linspace(5.0, 200.0, 40))),
        rk.Piece(kind="creep", duration=100.0, start=150.0, end=150.0, points=tuple(np.linspace(5.0, 100.0, 20))),
    ),
)


def rate_by_bracketing(stress, structure):
    def excess(rate):
        return float(INK.stress(rate, structure)) - stress

    return 0.0 if excess(0.0) >= 0.0 else brentq(excess, 0.0, 1e6, xtol=1e-14, rtol=1e-14)


def test_a_programme_of_stress_agrees_with_an_integrator():
    found = rk.simulate_structure(STRESS, "general", GENERAL)
    expected, value = [], 1.0
    for piece in STRESS.pieces:

        def change(time, structure, piece=piece):
            rate = rate_by_bracketing(float(piece.at(np.array(time))), structure[0])
            return INK.structure_change(rate, structure[0])

        answer = solve_ivp(change, (0.0, piece.duration), [value], t_eval=piece.points, rtol=1e-10, atol=1e-13, method="DOP853")
        expected += answer.y[0].tolist()
        value = answer.y[0][-1]
    # The ink begins to flow somewhere inside a step: the corner costs either integrator digits, far fewer than those promised, 1e-6.
    assert np.abs(found.structure - expected).max() < 1e-6
    rates = [rate_by_bracketing(stress, structure) for stress, structure in zip(found.shear_stress, found.structure, strict=True)]
    assert found.shear_rate == pytest.approx(rates, rel=1e-10, abs=1e-12)  # the bracketing's own tolerance, over the slope
    assert found.shear_rate.min() == 0.0
    assert found.shear_rate.max() > 50.0


def test_stress_and_rate_control_are_each_others_inverse():
    forward = rk.simulate_structure(STRESS, "general", GENERAL)
    flowing = forward.shear_rate > 0.0
    back = INK.stress(forward.shear_rate[flowing], forward.structure[flowing])
    assert back == pytest.approx(forward.shear_stress[flowing], rel=1e-11)


@pytest.mark.parametrize(
    ("changes", "stress", "rate"),
    [
        ({"infinite_shear_viscosity": 0.0}, 95.0 + 25.0 * 2.0, 4.0),  # yield 60 + 70/2, consistency 20 + 10/2, root of 4
        ({"broken_consistency": 0.0, "structure_consistency": 0.0}, 95.0 + 6.3, 10.0),
    ],
)
def test_the_rate_under_a_stress_by_hand(changes, stress, rate):
    control = StressControl(PARAMETERS | changes)

    assert control.rate(stress, 0.5) == pytest.approx(rate, rel=1e-12)
    assert control.rate(95.0, 0.5) == 0.0


def test_an_ink_that_nothing_holds_is_refused():
    control = StressControl(PARAMETERS | {"broken_consistency": 0.0, "structure_consistency": 0.0, "infinite_shear_viscosity": 0.0})
    with pytest.raises(rk.FitError, match=r"beyond its yield stress, at 100\.0 Pa, nothing resists the flow"):
        control.rate(100.0, 0.5)


@pytest.mark.parametrize(
    ("law", "parameters", "start", "message"),
    [
        ("general", PARAMETERS, 1.0, "general has no parameter 'elastic_strain'; its parameters are build_up_rate"),
        ("moore", {"build_up_rate": 1.0}, 1.0, "moore needs breakdown_coefficient, structure_consistency, infinite_shear_viscosity"),
        ("general", GENERAL | {"build_up_rate": -1.0}, 1.0, "build_up_rate is -1.0; it must be a number from 0 to ∞"),
        ("general", GENERAL, 1.5, "initial_structure: 1.5 does not lie between 0 and 1"),
        ("mooore", {}, 1.0, "unknown structure law 'mooore'; the laws are moore, houska, general, general_startup"),
    ],
)
def test_what_cannot_be_simulated_is_said(law, parameters, start, message):
    with pytest.raises(rk.FitError, match=message.replace("(", r"\(")):
        rk.simulate_structure(rk.loop_programme(), law, parameters, initial_structure=start)


def test_stress_control_needs_a_law_without_elastic_strain():
    with pytest.raises(rk.FitError, match="needs a law without an elastic strain"):
        rk.simulate_structure(STRESS, "general_startup", PARAMETERS)
    with pytest.raises(rk.FitError, match="a programme of stress has no rates of its own"):
        STRESS.history()


def test_the_embedded_pair_is_of_orders_five_and_four():
    nodes = np.array(stress_control._NODES)
    table = np.array([(*row, *[0.0] * (7 - len(row))) for row in stress_control._TABLE])
    fifth, fourth = table[-1], np.array(stress_control._FOURTH)
    assert table.sum(axis=1) == pytest.approx(nodes, abs=1e-14)  # sums of a few fractions
    for weights, order in ((fifth, 5), (fourth, 4)):
        for power in range(order):
            assert float(weights @ nodes**power) == pytest.approx(1.0 / (power + 1), abs=1e-14)
        assert float(weights @ table @ nodes) == pytest.approx(1.0 / 6.0, abs=1e-14)  # the order conditions with one inner stage
        assert float(weights @ table @ nodes**2) == pytest.approx(1.0 / 12.0, abs=1e-14)
        assert float(weights @ (nodes * (table @ nodes))) == pytest.approx(1.0 / 8.0, abs=1e-14)
        assert float(weights @ table @ table @ nodes) == pytest.approx(1.0 / 24.0, abs=1e-14)
    assert float(fourth @ nodes**4) != pytest.approx(0.2, abs=1e-6)  # else there would be no error to see
