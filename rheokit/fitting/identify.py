"""What the data do not determine, in plain words, by rules fixed beforehand; each limit stands here once, with its argument.

What is seen from the derivatives alone (a bound, no effect, two parameters with one effect) is said by `covariance`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.finding import Finding, Severity
from rheokit.base.show import number, value_and_error
from rheokit.law import Law

__all__ = [
    "DOUBT",
    "FAR",
    "FEW",
    "LOOSE",
    "REACHED",
    "SEEN",
    "TWINS",
    "Reach",
    "combination",
    "extrapolation",
    "few_points",
    "plateaus",
    "twins",
    "unseen_plateaus",
]

FEW = 3
"""Degrees of freedom below which a standard error is itself uncertain by half or more: by 1/√(2ν), which is 50 % at ν = 2."""
TWINS = 0.99
"""Correlation from which two parameters are hardly told apart: each then has 1/√(1 - 0.99²) = 7 times the error it would have alone."""
LOOSE = 0.1
"""Relative standard error from which such a pair is worth a word: below it, both are good enough to be used whatever ties them."""
REACHED = 0.5
"""Share of a plateau from which it counts as seen: at the last point its own term then rules the viscosity."""
SEEN = 0.1
"""Share of a plateau below which it counts as not seen: it would lie a decade of viscosity beyond the last point, by the law alone."""
DOUBT = 2.0
"""Standard errors by which a plateau may lie farther off and must still be seen: else noise alone makes one out of nothing, in every fourth
curve at 5 % noise; from two on it does so about once in forty (normal, one side), and docs/fit_coverage.md counts fewer."""
FAR = 0.5
"""Decades beyond the data from which a curve is a prediction of the law: half a decade is a bench range's usual spacing of two."""


class Reach(NamedTuple):
    """How far a plateau is seen: the share reached at the last point, the sentence about it, and the share left within its error."""

    share: float
    sentence: str
    least: float


def plateaus(law: Law, x: FloatArray, point: FloatArray, errors: FloatArray | None = None) -> dict[str, Reach]:
    """Return for each plateau viscosity that is not seen at its end of the shear rates x (N,) how far it is seen.

    With standard errors (p,) also those that are seen, but might not be within DOUBT of them.
    """
    found = {}
    for name, last, word in (("zero_shear_viscosity", float(x.min()), "lowest"), ("infinite_shear_viscosity", float(x.max()), "highest")):
        if name not in law.names or x.ndim != 1 or last <= 0.0:
            continue
        index = law.names.index(name)
        plateau, doubt = float(point[index]), 0.0 if errors is None else DOUBT * float(errors[index])
        viscosity = float(law.value(np.array([last]), *point)[0]) / last
        share, least = (
            plateau_share(place, viscosity) for place in (plateau, plateau + doubt if word == "lowest" else max(plateau - doubt, 0.0))
        )
        if share >= REACHED and least >= SEEN:
            continue
        lies = (
            "may lie beyond the measured range within two of its standard errors"
            if share >= SEEN > least
            else "lies beyond the measured range"
        )
        sentence = (
            f"its plateau {lies}: at the {word} rate, {number(last)} 1/s, the viscosity is {number(viscosity, 3)} Pa·s, "
            "which the data do determine"
        )
        found[name] = Reach(share, sentence, least)
    return found


def plateau_share(plateau: float, viscosity: float) -> float:
    """Return the smaller of a plateau and the viscosity at the last rate over the larger."""
    low, high = sorted((plateau, viscosity))
    return low / high if low > 0.0 else 0.0


def twins(law: Law, point: FloatArray, covariance: FloatArray) -> tuple[Finding, ...]:
    """Return a finding about the two parameters that are hardest to tell apart, where that matters; covariance is (p, p)."""
    errors = np.sqrt(np.diag(covariance))
    usable = np.flatnonzero(np.isfinite(errors) & (errors > 0.0))
    if len(usable) < 2:
        return ()
    correlation = np.abs(covariance[np.ix_(usable, usable)] / np.outer(errors[usable], errors[usable]))
    np.fill_diagonal(correlation, 0.0)
    first, second = usable[list(np.unravel_index(int(np.argmax(correlation)), correlation.shape))]
    worst = float(correlation.max())
    if worst < TWINS or not (errors[[first, second]] > LOOSE * np.abs(point[[first, second]])).any():
        return ()
    weight = -float(covariance[first, second] / covariance[second, second])
    error = float(errors[first]) * math.sqrt(max(1.0 - worst**2, 0.0))
    names = law.names[first].replace("_", " "), law.names[second].replace("_", " ")
    said = (
        f"{names[0]} and {names[1]} are hardly told apart (correlation {number(worst, 4)}); "
        f"what the data determine is {combination(law, point, (int(first), int(second)), weight, error)}"
    )
    return (
        Finding(check="parameters_hardly_told_apart", severity="caution", reason=said, value=worst, limit=TWINS, source=law.names[first]),
    )


def combination(law: Law, point: FloatArray, pair: tuple[int, int], weight: float, error: float | None = None) -> str:
    """Return in words what first + weight × second is."""
    first, second = (law.parameters[index] for index in pair)
    value, spread = value_and_error(float(point[pair[0]] + weight * point[pair[1]]), error)
    sign, unit = "+" if weight >= 0.0 else "−", "" if first.unit in {"", "1"} else f" {first.unit}"
    said = f"{first.name.replace('_', ' ')} {sign} {number(abs(weight))} × {second.name.replace('_', ' ')} = {value}{unit}"
    return said + (f", standard error {spread}{unit}" if spread else "")


def few_points(freedom: int, *, scale_known: bool) -> tuple[Finding, ...]:
    """Return a finding where so few points are left over that the errors are themselves a guess."""
    if scale_known or not 0 < freedom < FEW:
        return ()
    said = (
        f"{freedom} degree{'' if freedom == 1 else 's'} of freedom left: the standard errors are themselves uncertain by "
        f"{number(100.0 / math.sqrt(2.0 * freedom), 2)} %; measure more points"
    )
    return (Finding(check="few_points", severity="caution", reason=said, value=float(freedom), limit=float(FEW), unit="1"),)


def unseen_plateaus(reached: Mapping[str, Reach]) -> tuple[Finding, ...]:
    """Return findings about plateaus of which only a part is seen."""
    return tuple(
        Finding(
            check="plateau_outside_range",
            severity="caution",
            reason=f"{name.replace('_', ' ')}: {reach.sentence}",
            value=reach.share,
            limit=REACHED,
            unit="1",
            source=name,
        )
        for name, reach in reached.items()
    )


def extrapolation(x: FloatArray, at: FloatArray) -> tuple[Finding, ...]:
    """Return a finding when x asked for, (M,), go beyond those measured, (N,): in decades where all are positive."""
    if x.ndim != 1 or at.ndim != 1 or not at.size:
        return ()
    span = f"the measured range {number(float(x.min()))} to {number(float(x.max()))}"
    if x.min() > 0.0 and at.min() > 0.0:
        beyond = max(math.log10(float(at.max() / x.max())), math.log10(float(x.min() / at.min())))
        said, unit = f"{number(beyond, 2)} decades beyond {span}", "decades"
    elif x.min() > 0.0:
        beyond, said, unit = math.inf, f"to zero, beyond {span}", "decades"
    else:
        width = float(x.max() - x.min()) or 1.0
        beyond = max(float(at.max() - x.max()), float(x.min() - at.min())) / width
        said, unit = f"{number(beyond, 2)} times its width beyond {span}", "1"
    if beyond <= 1e-9:  # rounding of a range end computed from its logarithm
        return ()
    value = None if math.isinf(beyond) else beyond
    reason = f"reaches {said}: there the law speaks, not the data"
    severity: Severity = "caution" if beyond > FAR else "info"
    return (Finding(check="extrapolation", severity=severity, reason=reason, value=value, limit=FAR, unit=unit),)
