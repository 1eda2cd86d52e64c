"""The simulator: what an ink of known structure parameters shows along a programme of shear rate or of shear stress."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from rheokit.base.carry import Carried
from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.thixotropy.kinetics.laws import StructureLaw, stress, structure_law
from rheokit.thixotropy.kinetics.programme import Piece, Programme
from rheokit.thixotropy.kinetics.stress_control import StressControl
from rheokit.thixotropy.kinetics.structure import refined, structure_along

__all__ = ["Simulated", "simulate_structure"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Simulated(Carried):
    """What is recorded along a programme, without any scatter; arrays of shape (N,).

    `time` [s], `shear_rate` [1/s], `shear_stress` [Pa], `structure`, and the kind of the step of each point. In a rest the stress is
    released, so it is 0 there.
    """

    time: FloatArray
    shear_rate: FloatArray
    shear_stress: FloatArray
    structure: FloatArray
    kinds: tuple[str, ...]


def simulate_structure(
    programme: Programme, law: str | StructureLaw, parameters: Mapping[str, float], *, initial_structure: float = 1.0
) -> Simulated:
    """Return what an ink shows along a programme.

    Parameters
    ----------
    programme
        Of shear rate: exact at constant rates, to about 1e-9 of the structure on ramps. Of shear stress: the rate that carries it is
        found at every moment, and the structure followed to a relative tolerance of 1e-9; 0 where the yield stress holds it.
    law, parameters
        Structure law, by its name or itself, and a value for each of its parameters.
    initial_structure
        Structure parameter when the programme begins, 0 to 1.

    Raises
    ------
    FitError
        When a parameter is missing, unknown or outside its bounds, the structure lies outside 0 to 1, or a programme of stress meets
        an ink with an elastic strain: its rate is then no function of stress and structure.
    """
    whole = structure_law(law).complete(parameters)
    if not 0.0 <= initial_structure <= 1.0:
        raise FitError(f"initial_structure: {initial_structure!r} does not lie between 0 and 1")
    if programme.controlled == "stress":
        return _of_stress(programme, whole, initial_structure)
    kinetics = whole["build_up_rate"], whole["breakdown_coefficient"], whole["breakdown_exponent"]
    history = programme.history()
    structure = structure_along(refined(history, *kinetics), *kinetics, [initial_structure]).value[0]
    kinds = tuple(programme.pieces[step - 1].kind for step in history.step.tolist())
    shown = stress(history.rate, structure, whole, history.strain)
    resting = np.array([_rests(programme.pieces[step - 1]) for step in history.step.tolist()], dtype=bool)
    return Simulated(
        time=history.time,
        shear_rate=history.rate,
        shear_stress=np.where(resting, 0.0, shown),
        structure=structure,
        kinds=kinds,
    )


def _rests(piece: Piece) -> bool:
    return piece.start == 0.0 and piece.end == 0.0


def _of_stress(programme: Programme, parameters: Mapping[str, float], initial_structure: float) -> Simulated:
    if parameters["elastic_strain"] > 0.0:
        raise FitError("a programme of stress needs a law without an elastic strain: there the rate follows from stress and structure")
    control = StressControl(parameters)
    rows: list[tuple[float, float, float, float]] = []
    kinds: list[str] = []
    clock, structure = 0.0, initial_structure
    for piece in programme.pieces:
        ends = sorted({0.0, *piece.points, piece.duration})
        recorded = set(piece.points)
        reached = {0.0: structure}
        for one, other in pairwise(ends):
            reached[other] = control.advance(piece, one, other, reached[one])
        for at in ends:
            if at in recorded:
                held = float(piece.at(np.array(at)))
                rows.append((clock + at, control.rate(held, reached[at]), held, reached[at]))
                kinds.append(piece.kind)
        structure, clock = reached[ends[-1]], clock + piece.duration
    time, rate, held_stress, values = np.array(rows).T
    return Simulated(time=time, shear_rate=rate, shear_stress=held_stress, structure=values, kinds=tuple(kinds))
