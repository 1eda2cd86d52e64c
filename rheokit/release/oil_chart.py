"""The readings of check oils over the months: over their certified values, with tolerance and control limits, as a table and a figure."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from rheokit.base.errors import OutputError, RangeError, printable
from rheokit.base.estimate import Estimate
from rheokit.base.look import HUES, INK, SOFT, TINT, dress
from rheokit.base.quantities import quantity
from rheokit.base.show import Table, number, resolve_axes
from rheokit.release.instrument import Instrument
from rheokit.release.oil_reading import OilReading, oil_readings
from rheokit.statistics.charts import Individuals, individuals

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["OilChart", "oil_chart"]

_MARKS = {"stands": "●", "doubtful": "◐", "failed": "✕", "not judged": "○"}


@dataclass(frozen=True, kw_only=True, eq=False)
class OilChart:
    """Readings of check oils in their order.

    Attributes
    ----------
    instrument
        The file that they are judged by.
    readings
        Each with its standing.
    chart
        Control chart of the ratios of those readings that have one, its limits from those that did not fail; None where these are too
        few, or all equal. An alarm of it is a signal to look for a cause, never a failed check.
    """

    instrument: Instrument
    readings: tuple[OilReading, ...]
    chart: Individuals | None

    @property
    def charted(self) -> tuple[OilReading, ...]:
        """The readings with a ratio, as the chart holds them."""
        return tuple(reading for reading in self.readings if reading.ratio is not None)

    @property
    def failed(self) -> tuple[OilReading, ...]:
        """The latest reading of each oil that failed or could not be judged."""
        latest = {reading.oil: reading for reading in self.readings}.values()
        return tuple(reading for reading in latest if reading.standing in {"failed", "not judged"})

    def table(self) -> Table:
        """Return the readings as a table: one row a reading."""
        outside = self._outside()
        rows = tuple((*_row(reading), outside.get(index, "")) for index, reading in enumerate(self.readings))
        columns = ("read", "oil", "at [°C]", "reading [Pa·s]", "certified [Pa·s]", "off [%]", "± [%]", "standing", "control chart")
        title = f"Check oils of {self.instrument.id}, {self.instrument.name}"
        right = ("at [°C]", "reading [Pa·s]", "certified [Pa·s]", "off [%]", "± [%]")
        return Table(title=title, columns=columns, rows=rows, right=right, notes=(self._limits(), *self._reasons()))

    def _limits(self) -> str:
        if self.chart is None:
            return "no control limits: they need two readings or more that differ"
        lower, upper = (100.0 * (end - 1.0) for end in (self.chart.lower, self.chart.upper))
        words = f"{lower:+.2f} to {upper:+.2f} %, centre {100.0 * (self.chart.centre - 1.0):+.2f} %"
        return f"control limits {words}, from the moving ranges of the readings that did not fail; beyond them: look for a cause"

    def _reasons(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(reading.reason for reading in self.readings if reading.standing != "stands"))

    def _outside(self) -> dict[int, str]:
        """Return the place of each reading beyond a control limit, with words for it."""
        if self.chart is None:
            return {}
        places = [index for index, reading in enumerate(self.readings) if reading.ratio is not None]
        said = {}
        for index, value, jump in zip(places, self.chart.outside.tolist(), self.chart.range_outside.tolist(), strict=True):
            words = [word for word, seen in (("beyond the limits", value), ("a jump", jump)) if seen]
            if words:
                said[index] = " and ".join(words)
        return said

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw the ratios over time on the axes given, else on a new figure, and return the axes."""
        ax = resolve_axes(ax)
        dress(ax)
        charted = self.charted
        if not charted:
            raise RangeError("no reading of a check oil is judged, so there is nothing to draw")
        times = np.array([np.datetime64(reading.time.astimezone(UTC).replace(tzinfo=None)) for reading in charted])
        ratios = np.array([reading.ratio for reading in charted], dtype=np.float64)
        errors = np.array([2.0 * (reading.relative_error or 0.0) for reading in charted])
        ax.axhline(1.0, color=SOFT, linewidth=1.0)
        tolerances = {reading.tolerance or 0.0 for reading in charted}
        tolerance, called = max(tolerances), "tolerance" if len(tolerances) == 1 else "widest tolerance"
        for end, word in ((1.0 + tolerance, called), (1.0 - tolerance, "")):
            ax.axhline(end, color=HUES[3], linewidth=1.4, linestyle="--")
            ax.annotate(word, (0.995, end), xycoords=("axes fraction", "data"), color=HUES[3], ha="right", va="bottom", fontweight="bold")
        if self.chart is not None:
            ax.axhspan(self.chart.lower, self.chart.upper, color=HUES[0], alpha=TINT, linewidth=0.0)
        ax.vlines(times, ratios - errors, ratios + errors, color=SOFT, linewidth=0.9)
        for index, oil in enumerate(dict.fromkeys(reading.oil for reading in charted)):
            mine = np.array([reading.oil == oil for reading in charted])
            mark = "os^D"[index % 4]
            ax.plot(times[mine], ratios[mine], mark, markerfacecolor="white", markeredgecolor=INK, linestyle="none", label=oil, zorder=3)
        failed = np.array([reading.standing == "failed" for reading in charted])
        ax.plot(times[failed], ratios[failed], "x", color=HUES[3], markersize=10.0, markeredgewidth=2.0, linestyle="none", zorder=4)
        ax.set_xlabel("read (UTC)")
        ax.set_ylabel(quantity("check_oil_ratio").label)
        title = "bars: 95 % of a reading; tint: control limits; crosses: failed; marks: " + ", ".join(dict.fromkeys(r.oil for r in charted))
        ax.set_title(title, loc="left", fontsize="small", color=SOFT)
        ax.tick_params(axis="x", rotation=30)
        return ax

    def write_figure(self, path: str | Path) -> Path:
        """Draw the chart into a new file, of the kind that its ending says, and return its path.

        Raises
        ------
        OutputError
            When the file is there already, its ending is no kind of figure, or it cannot be written.
        RangeError
            When no reading is judged.
        """
        target = Path(path)
        if target.exists():
            raise OutputError(f"{printable(target)}: is there already and is not replaced; name another file")
        root = self.plot().figure.figure
        try:
            root.savefig(target)
        except (OSError, ValueError) as error:
            raise OutputError(f"{printable(target)}: cannot be written ({error}); name for example check_oil.svg") from None
        return target


def oil_chart(results: Iterable[Estimate], instrument: Instrument) -> OilChart:
    """Return the readings of check oils among entered results, judged and charted.

    A reading that was entered with several batches counts once.

    Parameters
    ----------
    results
        Entered results of any batches, as `Batch.entered` holds them.
    instrument
        Read by `read_instrument`.
    """
    found: dict[tuple[object, ...], OilReading] = {}
    for reading in oil_readings(results, instrument):
        found.setdefault((reading.oil, reading.time, reading.value, reading.temperature), reading)
    readings = tuple(found.values())
    ratios = [reading.ratio for reading in readings if reading.ratio is not None]
    base = [reading.ratio for reading in readings if reading.ratio is not None and reading.standing != "failed"]
    scattered = len(base) > 1 and not math.isclose(min(base), max(base), rel_tol=1e-12)
    return OilChart(instrument=instrument, readings=readings, chart=individuals(ratios, base=base) if scattered else None)


def _row(reading: OilReading) -> tuple[str, ...]:
    return (
        reading.time.astimezone(UTC).strftime("%Y-%m-%d %H:%M UTC"),
        reading.oil or "not named",
        "not stated" if reading.temperature is None else f"{reading.temperature - 273.15:.2f}",
        number(reading.value),
        "" if reading.certified is None else number(reading.certified),
        "" if reading.ratio is None else f"{100.0 * (reading.ratio - 1.0):+.2f}",
        "" if reading.relative_error is None else f"{100.0 * reading.relative_error:.2f}",
        f"{_MARKS[reading.standing]} {reading.standing}",
    )
