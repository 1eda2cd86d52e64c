"""The usable points of an amplitude sweep."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rheokit.base.curve import FloatArray
from rheokit.base.errors import FitError
from rheokit.base.look import HUES
from rheokit.base.run import Step
from rheokit.yielding.drawing import open_marks, panel
from rheokit.yielding.reading_off import YieldReading, countable

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["Sweep", "SweepReading", "sweep_of"]

_FEWEST = 8


@dataclass(frozen=True, kw_only=True, eq=False)
class Sweep:
    """Strain amplitudes, each once and rising, with the storage and loss modulus [Pa] at each, (N,)."""

    strain: FloatArray
    storage: FloatArray
    loss: FloatArray

    @property
    def stress(self) -> FloatArray:
        """Stress amplitudes [Pa], `|G*|` times the strain amplitude, (N,)."""
        return self.strain * np.hypot(self.storage, self.loss)


def sweep_of(step: Step) -> Sweep:
    """Return the points of an amplitude sweep whose strain and moduli are positive numbers.

    Raises
    ------
    FitError
        When there are too few.
    StepError
        When the step has no strain or moduli.
    """
    strain, storage, loss = (step.column(name) for name in ("shear_strain", "storage_modulus", "loss_modulus"))
    kept = countable(strain, storage, loss)
    once, place, counts = np.unique(strain[kept], return_inverse=True, return_counts=True)
    if once.size < _FEWEST:
        raise FitError(f"the amplitude sweep has {once.size} points with a positive strain and moduli; it needs at least {_FEWEST}")
    means = (np.exp(np.bincount(place, weights=np.log(values[kept])) / counts) for values in (storage, loss))
    return Sweep(strain=once, storage=next(means), loss=next(means))


@dataclass(frozen=True, kw_only=True, eq=False)
class SweepReading(YieldReading):
    """What was found in an amplitude sweep, with the points: strains, storage and loss moduli [Pa], (N,)."""

    strain: FloatArray
    storage: FloatArray
    loss: FloatArray

    def _panel(self, ax: Axes | None) -> Axes:
        """Return axes with both moduli drawn."""
        ax = panel(ax, ("shear_strain", "storage_modulus"), logarithmic="both")
        ax.set_ylabel("storage modulus G′, loss modulus G″ [Pa]")
        open_marks(ax, self.strain, self.storage, colour=HUES[0], label="G′")
        open_marks(ax, self.strain, self.loss, mark="s", colour=HUES[1], label="G″")
        ax.set_xlim(right=1.8 * float(self.strain[-1]))  # room for the words
        return ax
