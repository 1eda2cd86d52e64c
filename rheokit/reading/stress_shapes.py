"""Steps in which the stress, not the rate, follows a programme: held (creep), ramped, stepped."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.finding import Finding
from rheokit.base.show import number
from rheokit.reading.profile import ON_PROGRAMME, changes_of, deviation_from_programme, direction, level_starts, middle, scatter, spread
from rheokit.reading.shape import Shape, told

__all__ = ["UNLOADED_PART", "ByStress", "creeps", "rising_stress", "shape_by_stress", "shape_without_rate"]

STRESS_CONSTANT_SPREAD = 0.02
"""Relative: drives hold a stress to about 1 %."""

PROGRAMME = 0.03
"""Deviation from a programme, over the range, up to which a column can be the controlled one."""

CLEARLY_SMOOTHER = 0.2
"""The stress is taken as controlled when it deviates by less than this part of what the rate deviates by."""

CLEARLY_QUIETER = 1.0 / 3.0
"""The stress is taken as held, where rate and stress both hold, when it scatters by less than this part of what the rate does."""

UNLOADED_PART = 0.01
"""Of the run's top stress: a step that stays below carries no stress, and what moves is recoil."""

RAMPED_PART = 0.5
"""Of the largest stress of a step: what a stress rises by when it is ramped while next to nothing moves."""

WANDERING_SPREAD = 0.3
"""Spread over level of a stress that may be held, though badly."""

FEWEST_POINTS = 8
"""A stress ramp of fewer points is told with a caution, as a sweep of the rate is."""

UNEVEN_TIME = 3.0
"""Longest over shortest interval: creep is often recorded in decades of time, where a power law of it looks like a programme."""


class ByStress(NamedTuple):
    """The shape of a step that the stress controls, or None; why that may be wrong; and whether both hold, the stress more quietly."""

    shape: Shape | None
    doubt: tuple[Finding, ...]
    quieter: bool = False


NOT_BY_STRESS = ByStress(None, ())


def _known(part: Mapping[str, FloatArray], name: str) -> FloatArray:
    values = part.get(name, np.empty(0))
    return values[np.isfinite(values)]


def _holds(stress: FloatArray) -> bool:
    return stress.size >= 2 and middle(stress) > 0.0 and spread(stress) <= STRESS_CONSTANT_SPREAD


def _few(stress: FloatArray, said: tuple[Finding, ...]) -> tuple[Finding, ...]:
    if stress.size >= FEWEST_POINTS:
        return said
    return (*said, *told(f"the stress ramp has {stress.size} points only; it may be another kind of step", "caution"))


def rising_stress(part: Mapping[str, FloatArray], top_stress: float) -> Shape | None:
    """Return the shape of a step at the rate of a rest whose stress rises, or None when it does not."""
    stress = _known(part, "shear_stress")
    rise = float(stress[-1] - stress[0]) if stress.size > 1 else 0.0
    least = RAMPED_PART if stress.size >= 4 else STRESS_CONSTANT_SPREAD  # few rows may show a part of the ramp alone
    if rise <= UNLOADED_PART * top_stress or rise < least * float(np.abs(stress).max()):
        return None
    by_programme = deviation_from_programme(stress, np.arange(stress.size, dtype=np.float64)) <= PROGRAMME
    if stress.size >= 4 and direction(stress) > 0 and by_programme:
        said = _few(stress, told("the stress is ramped while next to nothing moves: a stress ramp that stays below the yield stress"))
        return Shape(form="stress_up", kind="stress_ramp", controlled="stress", stress=float(stress[-1]), findings=said)
    seen = f"the stress rises from {number(stress[0], 3)} to {number(stress[-1], 3)} Pa while next to nothing moves"
    return Shape(form="rest", findings=told(f"{seen}: a rest, or a stress ramp below the yield stress; called a rest", "caution"))


def creeps(part: Mapping[str, FloatArray], rate: FloatArray, top_stress: float) -> Shape | None:
    """Return the shape of a step at the rate of a rest whose stress is held, or None when it is a rest for sure."""
    stress = _known(part, "shear_stress")
    stands = stress.size > 1 and middle(stress) > UNLOADED_PART * top_stress and spread(stress) <= WANDERING_SPREAD
    if not stands or not rate.any():
        return None
    strain = _known(part, "shear_strain")
    if _holds(stress) and (direction(np.abs(strain)) > 0 or direction(np.abs(rate)) < 0):
        return Shape(form="stress_hold", kind="creep", controlled="stress", stress=middle(stress))
    reason = f"next to nothing moves and the stress stands at {number(middle(stress), 3)} Pa: a rest, or creep below the yield stress"
    return Shape(form="rest", findings=told(f"{reason}; called a rest", "caution"))


def shape_by_stress(part: Mapping[str, FloatArray], rate: FloatArray, *, rate_holds: bool = False) -> ByStress:
    """Return the shape when the stress, not the rate, follows a programme, or None; and what is doubtful about taking the rate.

    Parameters
    ----------
    part
        Quantity name to values [SI], each of shape (N,).
    rate
        [1/s], the last M of N rows.
    rate_holds
        Whether the rate is constant.
    """
    if "shear_stress" not in part:
        return NOT_BY_STRESS
    start = part["shear_stress"].size - rate.size
    stress = part["shear_stress"][start:]
    both = np.isfinite(stress)
    if np.count_nonzero(both) < 4:
        return NOT_BY_STRESS
    stress, rate = stress[both], rate[both]
    time = part["time"][start:][both] if "time" in part else np.arange(stress.size, dtype=np.float64)
    if not (np.isfinite(time).all() and (changes_of(time) > 0.0).all()):
        time = np.arange(stress.size, dtype=np.float64)
    if _holds(stress):
        return _both_hold(stress, rate) if rate_holds else _held(stress, rate, time)
    return NOT_BY_STRESS if rate_holds else _ramped(stress, rate, time)


def _both_hold(stress: FloatArray, rate: FloatArray) -> ByStress:
    quiet, loud = scatter(stress), scatter(rate)
    if quiet >= loud:
        return NOT_BY_STRESS
    reason = f"rate and stress both hold, and the stress scatters less ({quiet:.2%} against {loud:.2%}): either may have been set"
    return ByStress(None, told(reason, "caution"), quieter=quiet < CLEARLY_QUIETER * loud)


def _held(stress: FloatArray, rate: FloatArray, time: FloatArray) -> ByStress:
    """Return creep for a constant stress over a rate that does not hold, unless the rate follows a programme."""
    creep = Shape(form="stress_hold", kind="creep", controlled="stress", stress=middle(stress), rate=float(rate[-1]))
    if deviation_from_programme(rate, time) > PROGRAMME:
        return ByStress(creep, ())
    intervals = changes_of(time)
    seen = f"the stress stands at {number(middle(stress), 3)} Pa while the rate runs from {number(rate[0], 3)} to {number(rate[-1], 3)} 1/s"
    if intervals.max() > UNEVEN_TIME * intervals.min() and direction(rate) < 0:
        said = told(f"{seen}, recorded in decades of time: creep, or a rate sweep of an ideally plastic paste; called creep", "caution")
        return ByStress(replace(creep, findings=said), ())
    doubt = told(f"{seen} as by a programme: a rate sweep of an ideally plastic paste, or creep; taken as controlled by rate", "caution")
    return ByStress(None, doubt)


def _ramped(stress: FloatArray, rate: FloatArray, time: FloatArray) -> ByStress:
    off_rate = deviation_from_programme(rate, time)
    if off_rate <= ON_PROGRAMME:  # no stress is smoother than that
        return NOT_BY_STRESS
    off_stress = deviation_from_programme(stress, time)
    levels = level_starts(stress)
    if levels and not level_starts(rate):
        seen = f"{stress.size} rows stand at {len(levels)} stresses"
        said = told(f"{seen}: steady steps of stress, of which only the last row of each is settled", "caution")
        return ByStress(Shape(form="steady", kind="steady", controlled="stress", findings=said), ())
    turn = direction(stress)
    if turn == 0 or off_stress > PROGRAMME or off_stress >= off_rate:
        return NOT_BY_STRESS
    if off_stress > CLEARLY_SMOOTHER * off_rate:
        seen = f"the stress follows a programme more nearly than the rate ({off_stress:.1%} of its range off it against {off_rate:.1%})"
        return ByStress(None, told(f"{seen}; taken as controlled by rate", "caution"))
    said = _few(stress, told(f"the stress follows a programme ({off_stress:.1%} of its range off it), the rate does not ({off_rate:.0%})"))
    last = Shape(form="stress_up", kind="stress_ramp", controlled="stress", stress=float(stress[-1]), rate=float(rate[-1]), findings=said)
    return ByStress(last if turn > 0 else replace(last, form="stress_down", kind="down"), ())


def shape_without_rate(columns: Mapping[str, FloatArray], top_stress: float) -> Shape | None:
    """Return what a step without a shear rate is, where its stress and strain say so."""
    stress = _known(columns, "shear_stress")
    strain, compliance = _known(columns, "shear_strain"), _known(columns, "creep_compliance")
    if stress.size < 4 or not (strain.size or compliance.size):
        return None
    if np.abs(stress).max() <= UNLOADED_PART * top_stress:
        said = told("there is no shear rate and no stress: a rest, or recoil after creep; called a rest", "caution")
        return Shape(form="rest", unloaded=True, controlled="stress", findings=said)
    if _holds(stress):
        said = told("the stress is held and the strain recorded: creep")
        return Shape(form="stress_hold", kind="creep", controlled="stress", stress=middle(stress), findings=said)
    if direction(stress) > 0 and deviation_from_programme(stress, np.arange(stress.size, dtype=np.float64)) <= PROGRAMME:
        said = told("the stress rises by a programme and the strain was recorded: a stress ramp")
        return Shape(form="stress_up", kind="stress_ramp", controlled="stress", stress=float(stress[-1]), findings=said)
    return None
