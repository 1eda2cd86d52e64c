"""The 27 NIST StRD nonlinear sets as Laws, each with its derivatives by hand; `test_certified` proves them by complex steps.

The names of the parameters are those of the sets. Nelson is certified in the logarithm of its response, and so it is fitted.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from reference_data import reference

from rheokit.law import Law, Parameter

SETS: dict[str, dict[str, Any]] = reference("nist_nonlinear")["sets"]


def columns(*parts):
    """Return columns of one length, (N, p)."""
    return np.column_stack(np.broadcast_arrays(*parts))


def power_law(x, b1, b2):
    return b1 * x**b2


def power_law_slopes(x, b1, b2):
    return columns(x**b2, b1 * x**b2 * np.log(x))


def first_order(x, b1, b2):
    return b1 * (1.0 - np.exp(-b2 * x))


def first_order_slopes(x, b1, b2):
    return columns(-np.expm1(-b2 * x), b1 * x * np.exp(-b2 * x))


def misra_b(x, b1, b2):
    return b1 * (1.0 - (1.0 + b2 * x / 2.0) ** -2)


def misra_b_slopes(x, b1, b2):
    base = 1.0 + b2 * x / 2.0
    return columns(1.0 - base**-2.0, b1 * x * base**-3.0)


def misra_c(x, b1, b2):
    return b1 * (1.0 - (1.0 + 2.0 * b2 * x) ** -0.5)


def misra_c_slopes(x, b1, b2):
    base = 1.0 + 2.0 * b2 * x
    return columns(1.0 - base**-0.5, b1 * x * base**-1.5)


def second_order(x, b1, b2):
    return b1 * b2 * x / (1.0 + b2 * x)


def second_order_slopes(x, b1, b2):
    base = 1.0 + b2 * x
    return columns(b2 * x / base, b1 * x / base**2)


def chwirut(x, b1, b2, b3):
    return np.exp(-b1 * x) / (b2 + b3 * x)


def chwirut_slopes(x, b1, b2, b3):
    line, fall = b2 + b3 * x, np.exp(-b1 * x)
    return columns(-x * fall / line, -fall / line**2, -x * fall / line**2)


def three_exponentials(x, b1, b2, b3, b4, b5, b6):
    return b1 * np.exp(-b2 * x) + b3 * np.exp(-b4 * x) + b5 * np.exp(-b6 * x)


def three_exponentials_slopes(x, b1, b2, b3, b4, b5, b6):
    one, two, three = np.exp(-b2 * x), np.exp(-b4 * x), np.exp(-b6 * x)
    return columns(one, -b1 * x * one, two, -b3 * x * two, three, -b5 * x * three)


def two_peaks(x, b1, b2, b3, b4, b5, b6, b7, b8):
    first, second = np.exp(-(((x - b4) / b5) ** 2)), np.exp(-(((x - b7) / b8) ** 2))
    return b1 * np.exp(-b2 * x) + b3 * first + b6 * second


def two_peaks_slopes(x, b1, b2, b3, b4, b5, b6, b7, b8):
    fall, away, beyond = np.exp(-b2 * x), x - b4, x - b7
    first, second = np.exp(-((away / b5) ** 2)), np.exp(-((beyond / b8) ** 2))
    one, two = 2.0 * b3 * first * away / b5**2, 2.0 * b6 * second * beyond / b8**2
    return columns(fall, -b1 * x * fall, first, one, one * away / b5, second, two, two * beyond / b8)


def ratio_2(x, b1, b2, b3, b4, b5):
    return (b1 + b2 * x + b3 * x**2) / (1.0 + b4 * x + b5 * x**2)


def ratio_2_slopes(x, b1, b2, b3, b4, b5):
    base = 1.0 + b4 * x + b5 * x**2
    fall = -(b1 + b2 * x + b3 * x**2) / base**2
    return columns(1.0 / base, x / base, x**2 / base, fall * x, fall * x**2)


def ratio_3(x, b1, b2, b3, b4, b5, b6, b7):
    return (b1 + b2 * x + b3 * x**2 + b4 * x**3) / (1.0 + b5 * x + b6 * x**2 + b7 * x**3)


def ratio_3_slopes(x, b1, b2, b3, b4, b5, b6, b7):
    base = 1.0 + b5 * x + b6 * x**2 + b7 * x**3
    fall = -(b1 + b2 * x + b3 * x**2 + b4 * x**3) / base**2
    return columns(1.0 / base, x / base, x**2 / base, x**3 / base, fall * x, fall * x**2, fall * x**3)


def two_exponentials(x, b1, b2, b3, b4, b5):
    return b1 + b2 * np.exp(-x * b4) + b3 * np.exp(-x * b5)


def two_exponentials_slopes(x, b1, b2, b3, b4, b5):
    one, two = np.exp(-x * b4), np.exp(-x * b5)
    return columns(np.ones_like(x), one, two, -b2 * x * one, -b3 * x * two)


def logistic(x, b1, b2, b3):
    return b1 / (1.0 + np.exp(b2 - b3 * x))


def logistic_slopes(x, b1, b2, b3):
    rise = np.exp(b2 - b3 * x)
    fall = -b1 * rise / (1.0 + rise) ** 2
    return columns(1.0 / (1.0 + rise), fall, -x * fall)


def richards(x, b1, b2, b3, b4):
    return b1 / (1.0 + np.exp(b2 - b3 * x)) ** (1.0 / b4)


def richards_slopes(x, b1, b2, b3, b4):
    rise = np.exp(b2 - b3 * x)
    base = 1.0 + rise
    whole = base ** (-1.0 / b4)
    fall = -b1 * whole * rise / (b4 * base)
    return columns(whole, fall, -x * fall, b1 * whole * np.log(base) / b4**2)


def mgh09(x, b1, b2, b3, b4):
    return b1 * (x**2 + x * b2) / (x**2 + x * b3 + b4)


def mgh09_slopes(x, b1, b2, b3, b4):
    base = x**2 + x * b3 + b4
    top = x**2 + x * b2
    return columns(top / base, b1 * x / base, -b1 * top * x / base**2, -b1 * top / base**2)


def vogel(x, b1, b2, b3):
    return b1 * np.exp(b2 / (x + b3))


def vogel_slopes(x, b1, b2, b3):
    rise = np.exp(b2 / (x + b3))
    return columns(rise, b1 * rise / (x + b3), -b1 * b2 * rise / (x + b3) ** 2)


def bennett(x, b1, b2, b3):
    return b1 * (b2 + x) ** (-1.0 / b3)


def bennett_slopes(x, b1, b2, b3):
    whole = (b2 + x) ** (-1.0 / b3)
    return columns(whole, -b1 * whole / (b3 * (b2 + x)), b1 * whole * np.log(b2 + x) / b3**2)


def eckerle(x, b1, b2, b3):
    return b1 / b2 * np.exp(-0.5 * ((x - b3) / b2) ** 2)


def eckerle_slopes(x, b1, b2, b3):
    away = (x - b3) / b2
    peak = np.exp(-0.5 * away**2) / b2
    return columns(peak, b1 * peak * (away**2 - 1.0) / b2, b1 * peak * away / b2)


def enso(x, b1, b2, b3, b4, b5, b6, b7, b8, b9):
    year, one, two = 2.0 * np.pi * x / 12.0, 2.0 * np.pi * x / b4, 2.0 * np.pi * x / b7
    first = b5 * np.cos(one) + b6 * np.sin(one)
    return b1 + b2 * np.cos(year) + b3 * np.sin(year) + first + b8 * np.cos(two) + b9 * np.sin(two)


def enso_slopes(x, b1, b2, b3, b4, b5, b6, b7, b8, b9):
    year, one, two = 2.0 * np.pi * x / 12.0, 2.0 * np.pi * x / b4, 2.0 * np.pi * x / b7
    by_one = (b5 * np.sin(one) - b6 * np.cos(one)) * one / b4
    by_two = (b8 * np.sin(two) - b9 * np.cos(two)) * two / b7
    waves = np.cos(one), np.sin(one), by_two, np.cos(two), np.sin(two)
    return columns(np.ones_like(x), np.cos(year), np.sin(year), by_one, *waves)


def nelson(x, b1, b2, b3):
    return b1 - b2 * x[:, 0] * np.exp(-b3 * x[:, 1])


def nelson_slopes(x, b1, b2, b3):
    fall = x[:, 0] * np.exp(-b3 * x[:, 1])
    return columns(np.ones(len(x)), -fall, b2 * x[:, 1] * fall)


def roszman(x, b1, b2, b3, b4):
    return b1 - b2 * x - np.arctan(b3 / (x - b4)) / np.pi


def roszman_slopes(x, b1, b2, b3, b4):
    away = x - b4
    bend = 1.0 / (np.pi * (away**2 + b3**2))
    return columns(np.ones_like(x), -x, -away * bend, -b3 * bend)


_FUNCTIONS: dict[str, tuple[Callable[..., Any], Callable[..., Any]]] = {
    "Bennett5": (bennett, bennett_slopes),
    "BoxBOD": (first_order, first_order_slopes),
    "Chwirut1": (chwirut, chwirut_slopes),
    "Chwirut2": (chwirut, chwirut_slopes),
    "DanWood": (power_law, power_law_slopes),
    "ENSO": (enso, enso_slopes),
    "Eckerle4": (eckerle, eckerle_slopes),
    "Gauss1": (two_peaks, two_peaks_slopes),
    "Gauss2": (two_peaks, two_peaks_slopes),
    "Gauss3": (two_peaks, two_peaks_slopes),
    "Hahn1": (ratio_3, ratio_3_slopes),
    "Kirby2": (ratio_2, ratio_2_slopes),
    "Lanczos1": (three_exponentials, three_exponentials_slopes),
    "Lanczos2": (three_exponentials, three_exponentials_slopes),
    "Lanczos3": (three_exponentials, three_exponentials_slopes),
    "MGH09": (mgh09, mgh09_slopes),
    "MGH10": (vogel, vogel_slopes),
    "MGH17": (two_exponentials, two_exponentials_slopes),
    "Misra1a": (first_order, first_order_slopes),
    "Misra1b": (misra_b, misra_b_slopes),
    "Misra1c": (misra_c, misra_c_slopes),
    "Misra1d": (second_order, second_order_slopes),
    "Nelson": (nelson, nelson_slopes),
    "Rat42": (logistic, logistic_slopes),
    "Rat43": (richards, richards_slopes),
    "Roszman1": (roszman, roszman_slopes),
    "Thurber": (ratio_3, ratio_3_slopes),
}


def law(name: str) -> Law:
    """Return the law of one set, without bounds."""
    value, jacobian = _FUNCTIONS[name]
    parameters = tuple(Parameter(f"b{index + 1}") for index in range(len(SETS[name]["certified"])))
    return Law(name=name.lower(), parameters=parameters, value=value, jacobian=jacobian, formula=SETS[name]["model"], source="NIST StRD")


def points(name: str) -> tuple[np.ndarray, np.ndarray]:
    """Return x, (N,) or (N, 2), and the response in which the set is certified, (N,)."""
    x, y = np.array(SETS[name]["x"]), np.array(SETS[name]["y"])
    return x, np.log(y) if name == "Nelson" else y


def start(name: str, which: int) -> dict[str, float]:
    """Return the first or second published start."""
    return {f"b{index + 1}": value for index, value in enumerate(SETS[name][f"start_{which}"])}
