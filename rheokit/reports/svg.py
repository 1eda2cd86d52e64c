"""A small drawing of data on axes as SVG text: the figures of a record, made in a millisecond and the same bytes each time.

The look: measured points as open marks, fits as lines, bands as tints, words beside what they name. Ink is one dark tone; a second and a
third hue only repeat what marks and dashes already say, so that a page printed in grey still reads.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from html import escape
from types import MappingProxyType

from rheokit.base.errors import printable
from rheokit.base.look import HUES, INK, RULE, SOFT, TINT
from rheokit.base.show import number

__all__ = ["Axis", "Plot"]

CORNERS: Mapping[str, tuple[tuple[float, float], ...]] = MappingProxyType(
    {
        "square": ((-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)),
        "triangle": ((0.0, -1.25), (1.15, 0.9), (-1.15, 0.9)),
        "diamond": ((0.0, -1.3), (1.3, 0.0), (0.0, 1.3), (-1.3, 0.0)),
    }
)
MARKS = ("circle", *CORNERS)
Points = Sequence[tuple[float, float]]


@dataclass(frozen=True, kw_only=True)
class Axis:
    """One axis: its words, its range, whether it is logarithmic; a plain one may run from a high to a low value.

    `named` are words at places, instead of numbers.
    """

    label: str
    low: float
    high: float
    log: bool = False
    named: tuple[tuple[float, str], ...] = ()

    @classmethod
    def over(cls, label: str, values: Iterable[float], *, log: bool = False, zero: bool = False) -> Axis:
        """Return an axis that holds the values with a little room; a logarithmic one passes over what is not positive."""
        held = [value for value in values if math.isfinite(value) and (value > 0.0 or not log)]
        if not held:
            return cls(label=label, low=0.1 if log else 0.0, high=1.0, log=log)
        low, high = min(held), max(held)
        if log:
            room = max(math.log10(high / low), 0.2) * 0.06
            return cls(label=label, low=low / 10**room, high=high * 10**room, log=True)
        room = (high - low or abs(high) or 1.0) * 0.07
        return cls(label=label, low=0.0 if zero and low >= 0.0 else low - room, high=high + room)

    def place(self, value: float) -> float:
        """Return where a value lies, 0 at the low end and 1 at the high end."""
        if self.log:
            return math.log(value / self.low) / math.log(self.high / self.low)
        return (value - self.low) / (self.high - self.low)

    def ticks(self) -> list[tuple[float, str]]:
        """Return values and words of the ticks: decades (with 2 and 5 where there are few), or round steps."""
        if self.named:
            return list(self.named)
        return self._decades() if self.log else self._steps()

    def _decades(self) -> list[tuple[float, str]]:
        decades = range(math.floor(math.log10(self.low)), math.ceil(math.log10(self.high)) + 1)
        for factors in ((1,), (1, 2, 5), (1, 1.5, 2, 3, 4, 5, 6, 8)):
            found = [factor * 10.0**power for power in decades for factor in factors if self.low <= factor * 10.0**power <= self.high]
            if len(found) >= 3:
                break
        return [(value, _plain(value)) for value in found]

    def _steps(self) -> list[tuple[float, str]]:
        start, end = sorted((self.low, self.high))
        rough = (end - start) / 5.0
        power = 10.0 ** math.floor(math.log10(rough))
        step = next(factor * power for factor in (1.0, 2.0, 2.5, 5.0, 10.0) if factor * power >= rough * 0.999)
        first = math.ceil(start / step - 1e-9)
        last = math.floor(end / step + 1e-9)
        return [(index * step, _plain(index * step)) for index in range(first, last + 1)]


def _plain(value: float) -> str:
    """Return a tick's number as a person writes it."""
    return "0" if abs(value) < 1e-12 else f"{value:.10g}" if 1e-4 <= abs(value) < 1e6 else number(value, 2)


@dataclass(kw_only=True)
class Plot:
    """A drawing in the making; `svg()` returns it. Sizes are in CSS pixels."""

    title: str
    x: Axis
    y: Axis
    width: int = 460
    height: int = 300
    parts: list[str] = field(default_factory=list)
    left: int = 62
    right: int = 96
    top: int = 30
    bottom: int = 44

    def _at(self, x: float, y: float) -> tuple[float, float]:
        across = self.left + self.x.place(x) * (self.width - self.left - self.right)
        down = self.height - self.bottom - self.y.place(y) * (self.height - self.top - self.bottom)
        return round(across, 2), round(down, 2)

    def _drawable(self, points: Points) -> list[tuple[float, float]]:
        return [
            self._at(x, y)
            for x, y in points
            if math.isfinite(x) and math.isfinite(y) and (x > 0.0 or not self.x.log) and (y > 0.0 or not self.y.log)
        ]

    def line(self, points: Points, *, hue: int = 0, dash: str = "", width: float = 1.6) -> None:
        """Draw a line through points."""
        path = " ".join(f"{x},{y}" for x, y in self._drawable(points))
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        self.parts.append(f'<polyline points="{path}" fill="none" stroke="{HUES[hue]}" stroke-width="{width}"{dashes}/>')

    def band(self, lower: Points, upper: Points, *, hue: int = 0) -> None:
        """Tint what lies between two lines."""
        path = " ".join(f"{x},{y}" for x, y in [*self._drawable(lower), *reversed(self._drawable(upper))])
        self.parts.append(f'<polygon points="{path}" fill="{HUES[hue]}" fill-opacity="{TINT}" stroke="none"/>')

    def marks(self, points: Points, *, hue: int = 0, mark: str = "circle", size: float = 3.1, filled: bool = False) -> None:
        """Set an open mark at each point, or a filled one where something is said of it."""
        drawn = "".join(_mark(mark, x, y, size) for x, y in self._drawable(points))
        fill = f'fill="{HUES[hue]}"' if filled else 'fill="#fff" fill-opacity="0.55"'
        self.parts.append(f'<g {fill} stroke="{HUES[hue]}" stroke-width="1.1">{drawn}</g>')

    def level(self, y: float, words: str) -> None:
        """Draw a thin level line with words at its right end."""
        (x0, down), (x1, _) = self._at(self.x.low, y), self._at(self.x.high, y)
        self.parts.append(f'<line x1="{x0}" y1="{down}" x2="{x1}" y2="{down}" stroke="{SOFT}" stroke-width="0.8" stroke-dasharray="1 3"/>')
        self.parts.append(_text(x1 + 5, down + 3.5, words, fill=SOFT, size=10))

    def span(self, low: float, high: float, words: str, *, hue: int | None = None) -> None:
        """Tint what lies between two values of x, inside the frame, with words at its top; without a hue in grey."""
        inner = [min(max(value, min(self.x.low, self.x.high)), max(self.x.low, self.x.high)) for value in (low, high)]
        (x0, y0), (x1, y1) = self._at(inner[0], self.y.low), self._at(inner[1], self.y.high)
        left, wide, tone = round(min(x0, x1), 2), round(abs(x1 - x0), 2), SOFT if hue is None else HUES[hue]
        self.parts.append(f'<rect x="{left}" y="{y1}" width="{wide}" height="{round(y0 - y1, 2)}" fill="{tone}" fill-opacity="0.1"/>')
        self.parts.append(_text((x0 + x1) / 2.0, y1 + 11.0, words, anchor="middle", size=10, fill=tone))

    def word(self, x: float, y: float, words: str, *, hue: int | None = None, above: bool = True, anchor: str = "start") -> None:
        """Write words beside a point, above it or below."""
        across, down = self._at(x, y)
        tone = SOFT if hue is None else HUES[hue]
        self.parts.append(_text(across, down - 5.0 if above else down + 12.5, words, fill=tone, size=10.5, weight=600, anchor=anchor))

    def names(self, named: Sequence[tuple[float, float, str, int]]) -> None:
        """Write words to the right of points (x, y, words, hue), each in the hue of what it names, kept apart from each other."""
        placed = sorted((self._at(x, y), words, hue) for x, y, words, hue in named)
        last = -math.inf
        for (_, down), words, hue in sorted(placed, key=lambda one: one[0][1]):
            last = max(down, last + 13.0)
            self.parts.append(_text(self.width - self.right + 7, last + 3.5, words, fill=HUES[hue], size=11, weight=600))

    def svg(self) -> str:
        """Return the drawing."""
        frame = [*self._grid(), *self._words()]
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {self.width} {self.height}" role="img" aria-label="{_safe(self.title)}">'
        )
        return "".join([head, *frame, *self.parts, "</svg>"])

    def _grid(self) -> Iterable[str]:
        x0, x1, y0, y1 = self.left, self.width - self.right, self.height - self.bottom, self.top
        for value, words in self.x.ticks():
            across, _ = self._at(value, self.y.low)
            yield f'<line x1="{across}" y1="{y0}" x2="{across}" y2="{y1}" stroke="{RULE}" stroke-width="0.7"/>'
            yield _text(across, y0 + 15, words, anchor="middle", size=10.5)
        for value, words in self.y.ticks():
            _, down = self._at(self.x.low, value)
            yield f'<line x1="{x0}" y1="{down}" x2="{x1}" y2="{down}" stroke="{RULE}" stroke-width="0.7"/>'
            yield _text(x0 - 6, down + 3.6, words, anchor="end", size=10.5)
        yield f'<path d="M{x0} {y1}V{y0}H{x1}" fill="none" stroke="{INK}" stroke-width="1"/>'

    def _words(self) -> Iterable[str]:
        yield _text(self.left, 17, self.title, size=12.5, weight=600)
        middle = (self.left + self.width - self.right) / 2
        yield _text(middle, self.height - 8, self.x.label, anchor="middle", size=11, fill=SOFT)
        down = (self.top + self.height - self.bottom) / 2
        yield f'<g transform="translate(14 {down}) rotate(-90)">{_text(0, 0, self.y.label, anchor="middle", size=11, fill=SOFT)}</g>'


def _safe(text: str) -> str:
    return escape(printable(text, 400))


def _text(x: float, y: float, words: str, *, anchor: str = "start", size: float = 11, fill: str = INK, weight: int = 400) -> str:
    style = f'font-size="{size}" fill="{fill}" text-anchor="{anchor}"' + (f' font-weight="{weight}"' if weight != 400 else "")
    return f'<text x="{round(x, 2)}" y="{round(y, 2)}" {style}>{_safe(words)}</text>'


def _mark(mark: str, x: float, y: float, size: float) -> str:
    if mark == "circle":
        return f'<circle cx="{x}" cy="{y}" r="{size}"/>'
    path = " ".join(f"{round(x + a * size, 2)},{round(y + b * size, 2)}" for a, b in CORNERS[mark])
    return f'<polygon points="{path}"/>'
