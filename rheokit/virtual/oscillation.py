"""An amplitude sweep of the virtual gel: closed forms of the moduli, whose limits are known exactly.

With x the strain over a critical strain::

    G'  = G0 / (1 + x^a)
    G'' = G0 (b + c x) / (1 + x^a)

so G' has lost a part p of its plateau where ``x^a = p/(1 - p)``, and G' = G'' where ``x = (1 - b)/c``.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, isfinite

import numpy as np
from numpy.typing import ArrayLike

from .ink import FloatArray


@dataclass(frozen=True, kw_only=True)
class Gel:
    """The rested ink under a small and growing oscillation; its numbers are invented, as those of the ink are.

    Parameters
    ----------
    plateau_modulus : float
        G0 [Pa].
    critical_strain : float
        Strain at which G' has fallen to half, without unit.
    steepness : float
        a, above 1.
    loss_share : float
        b, loss over storage modulus at the smallest strains, below 1.
    loss_growth : float
        c, how fast the loss modulus gains on the storage modulus.

    Raises
    ------
    ValueError
        If a value is not above zero, or the shares leave no plateau or no flow point.
    """

    plateau_modulus: float
    critical_strain: float
    steepness: float
    loss_share: float
    loss_growth: float

    def __post_init__(self) -> None:
        for name, value in vars(self).items():
            if not (value > 0.0 and isfinite(value)):
                raise ValueError(f"{name} is {value}; it must be above zero and finite")
        if not self.steepness > 1.0 or not self.loss_share < 1.0:
            raise ValueError(f"steepness is {self.steepness} and loss_share {self.loss_share}; they must be above and below 1")

    def moduli(self, strain: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Storage and loss modulus [Pa] at strain amplitudes, each of their shape."""
        x = np.asarray(strain, dtype=np.float64) / self.critical_strain
        storage = self.plateau_modulus / (1.0 + x**self.steepness)
        return storage, storage * (self.loss_share + self.loss_growth * x)

    def stress(self, strain: float) -> float:
        """Stress amplitude [Pa], ``|G*|`` times the strain amplitude."""
        return hypot(*(float(modulus) for modulus in self.moduli(strain))) * strain

    def linear_limit(self, part: float = 0.05) -> float:
        """Strain at which G' lies a part below its plateau."""
        return float(self.critical_strain * (part / (1.0 - part)) ** (1.0 / self.steepness))

    @property
    def flow_point(self) -> float:
        """Strain at which G' = G''."""
        return self.critical_strain * (1.0 - self.loss_share) / self.loss_growth


def slate_grey_gel() -> Gel:
    """Return the rested standard of the demo scenario: linear to 1.4 % strain and 20 Pa, flowing from 22 % strain and 109 Pa."""
    return Gel(plateau_modulus=1500.0, critical_strain=0.1, steepness=1.5, loss_share=0.1, loss_growth=0.4)
