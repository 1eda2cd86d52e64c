"""What each folder of the demo scenario is: its ink, its faults, its papers. All of it is invented."""

from dataclasses import dataclass, field, replace
from datetime import datetime
from math import exp

import shapes

from rheokit.virtual import Faults, Ink, Shape, slate_grey_ink

STANDARD = slate_grey_ink()

USUAL = Faults(
    # Together 2 % on a reported viscosity: sqrt(1.85^2 + 0.6^2 + 0.4^2) = 1.99. Figures of the scenario.
    load_factor_sd=0.0185,
    point_noise_sd=0.006,
    correlated_noise_sd=0.004,
    torque_floor=2e-7,
    inertia=1e-5,
    temperature_scatter=0.03,
)
"""The instrument on a good day."""


@dataclass(frozen=True, kw_only=True)
class Result:
    """One hand-entered line of results.csv."""

    characteristic: str
    value: str
    unit: str
    standard_uncertainty: str
    method: str


@dataclass(frozen=True, kw_only=True)
class Plan:
    """One folder: everything that decides what is written into it.

    A seed is a pick: one pair of loads in twenty lies beyond the critical range of 2.8 s_r by chance alone
    (ISO 5725-6), and only the folder that is about it should show that.
    ``faults`` and ``shapes`` hold what differs from the usual, by (test, load). ``omitted`` loads are
    named in batch.toml and not written.
    """

    folder: str
    batch_id: str
    seed: int
    made: datetime
    measured: datetime
    ink: Ink = STANDARD
    role: str = "batch"
    operator: str = "technician 2"
    shape: Shape = shapes.PLAIN
    preamble: bool = True
    batch_file: bool = True
    faults: dict[tuple[str, int], Faults] = field(default_factory=dict)
    shapes: dict[tuple[str, int], Shape] = field(default_factory=dict)
    omitted: tuple[tuple[str, int], ...] = ()
    density: str = "1.152"
    laydown: str = "57.3"
    check_oil: str = "1.023"

    @property
    def results(self) -> tuple[Result, ...]:
        """Lines of results.csv."""
        return (
            Result(
                characteristic="check_oil_viscosity",
                value=self.check_oil,
                unit="Pa·s",
                standard_uncertainty="0.004",
                method="cone-plate, 100 1/s, 23.0 °C",
            ),
            Result(
                characteristic="density",
                value=self.density,
                unit="g/cm³",
                standard_uncertainty="0.003",
                method="pycnometer, 23.0 °C",
            ),
            Result(
                characteristic="laydown",
                value=self.laydown,
                unit="mg/100 m",
                standard_uncertainty="1.2",
                method="writing machine, weight loss over 300 m",
            ),
        )


def ink(*, yielding: float = 1.0, viscous: float = 1.0, plateau: float = 1.0, rebuilding: float = 1.0) -> Ink:
    """Return the standard with its yield, consistency, high-shear plateau and build-up multiplied."""
    return replace(
        STANDARD,
        broken_yield_stress=STANDARD.broken_yield_stress * yielding,
        structure_yield_stress=STANDARD.structure_yield_stress * yielding,
        broken_consistency=STANDARD.broken_consistency * viscous,
        structure_consistency=STANDARD.structure_consistency * viscous,
        infinite_shear_viscosity=STANDARD.infinite_shear_viscosity * plateau,
        build_up_rate=STANDARD.build_up_rate * rebuilding,
    )


def day(text: str) -> datetime:
    """Morning of a day, UTC: when its first run starts."""
    return datetime.fromisoformat(f"{text}T08:40:00+00:00")


def edge_fracture(time: float, radius_loss: float) -> Faults:
    """Return the usual instrument with a sample edge that breaks at a time [s]."""
    return replace(USUAL, edge_fracture_time=time, edge_fracture_radius_loss=radius_loss)


UNDERFILLED = replace(USUAL, edge_fracture_time=0.0, edge_fracture_spread=0.0, edge_fracture_radius_loss=0.045)
"""A gap 4.5 % short of its radius from the start: 13 % less torque, and nothing in the run shows it."""

BATCHES = (
    Plan(
        folder="B26-017",
        batch_id="B26-017",
        seed=17,
        made=day("2026-05-11"),
        measured=day("2026-09-15"),
        role="reference",
        shape=shapes.TAB_UTF16_BLOCKS,
    ),
    Plan(folder="B26-041", batch_id="B26-041", seed=141, made=day("2026-09-14"), measured=day("2026-09-15"), ink=ink(viscous=1.01)),
    Plan(
        folder="B26-042",
        batch_id="B26-042",
        seed=42,
        made=day("2026-09-15"),
        measured=day("2026-09-16"),
        ink=ink(yielding=0.98),
        shape=shapes.SEMICOLON_DECIMAL_COMMA,
        batch_file=False,
        laydown="58.1",
    ),
    Plan(
        folder="B26-043",
        batch_id="B26-043",
        seed=43,
        made=day("2026-09-16"),
        measured=day("2026-09-17"),
        ink=ink(viscous=1.36, plateau=1.3),
        shape=shapes.GERMAN,
        operator="technician 1",
        laydown="54.9",
    ),
    Plan(
        folder="B26-044",
        batch_id="B26-044",
        seed=44,
        made=day("2026-09-17"),
        measured=day("2026-09-18"),
        ink=ink(yielding=1.02, rebuilding=0.97),
        shape=shapes.TAB_SHUFFLED,
        density="1.149",
    ),
    Plan(
        folder="B26-045",
        batch_id="B26-045",
        seed=45,
        made=day("2026-09-18"),
        measured=day("2026-09-21"),
        operator="technician 3",
        shape=shapes.BLANKS,
        faults={("loop", 1): edge_fracture(448.0, 0.092), ("loop", 2): edge_fracture(456.0, 0.080)},
    ),
    Plan(
        folder="B26-046",
        batch_id="B26-046",
        seed=46,
        made=day("2026-09-21"),
        measured=day("2026-09-22"),
        ink=ink(plateau=1.58),
        shape=shapes.BAR_THOUSANDS,
        check_oil="1.017",
    ),
    Plan(
        folder="B26-047",
        batch_id="B26-047",
        seed=147,
        made=day("2026-09-22"),
        measured=day("2026-09-23"),
        operator="technician 1",
        shape=shapes.SHEETS,
        check_oil="1.061",
    ),
    Plan(
        folder="B26-048",
        batch_id="B26-048",
        seed=248,
        made=day("2026-09-23"),
        measured=day("2026-09-24"),
        ink=ink(viscous=0.98, plateau=1.03),
        shape=shapes.TORQUE_AND_SPEED,
        density="1.155",
        laydown="56.2",
    ),
    Plan(
        folder="B26-049",
        batch_id="B26-049",
        seed=49,
        made=day("2026-09-24"),
        measured=day("2026-09-25"),
        shape=shapes.RESTARTS,
        shapes={
            ("loop", 1): shapes.PLAIN,
            ("loop", 2): shapes.MIXED_UNITS,
            ("steady", 1): shapes.PLAIN,
            ("steady", 2): shapes.PLAIN,
        },
    ),
    Plan(
        folder="B26-050",
        batch_id="B26-050",
        seed=150,
        made=day("2026-09-25"),
        measured=day("2026-09-28"),
        operator="technician 3",
        shape=shapes.ONE_SHEET,
        omitted=(("steady", 2),),
    ),
    Plan(
        folder="B26-051",
        batch_id="B26-051",
        seed=51,
        made=day("2026-09-28"),
        measured=day("2026-09-29"),
        shape=shapes.OPEN_SHEETS,
        faults={("loop", 2): UNDERFILLED},
    ),
    Plan(
        folder="B26-052",
        batch_id="B26-052",
        seed=52,
        made=day("2026-09-29"),
        measured=day("2026-09-30"),
        shape=shapes.CLOCK_TIMES,
        density="1.214",
    ),
)


def effects(silica: float, resin: float, wax: float) -> dict[str, float]:
    """Return what amounts of silica, resin and wax [wt %] do to the ink: the true effects, invented.

    Silica alone follows power laws (yield with the published exponent 4.0); resin and wax act on the logarithm. Lots and process do
    nothing. The first four candidates were made before these laws and lie within 1 % of them.
    """
    share, more = silica / 3.0, resin - 22.0
    return {
        "yielding": share**4.0 * exp(0.116 * more + 1.664 * wax),
        "viscous": share**0.8 * exp(0.0923 * more + 0.365 * wax),
        "plateau": exp(0.0464 * more),
        "rebuilding": exp(-0.916 * wax),
    }


CANDIDATES = (
    Plan(
        folder="recipes/candidate-1",
        batch_id="candidate-1",
        seed=61,
        made=day("2026-10-05"),
        measured=day("2026-10-07"),
        shape=shapes.NO_SUFFIX,
    ),
    Plan(
        folder="recipes/candidate-2",
        batch_id="candidate-2",
        seed=62,
        made=day("2026-10-05"),
        measured=day("2026-10-07"),
        ink=ink(yielding=1.46, viscous=1.08),
        shape=shapes.BARE,
        preamble=False,
        density="1.158",
        laydown="52.6",
    ),
    Plan(
        folder="recipes/candidate-3",
        batch_id="candidate-3",
        seed=63,
        made=day("2026-10-06"),
        measured=day("2026-10-08"),
        ink=ink(yielding=0.85, rebuilding=0.4),
        shape=shapes.BLANK_LINES,
        density="1.147",
        laydown="60.4",
    ),
    Plan(
        folder="recipes/candidate-4",
        batch_id="candidate-4",
        seed=164,
        made=day("2026-10-06"),
        measured=day("2026-10-08"),
        ink=ink(yielding=1.1, viscous=0.8, plateau=0.85),
        shape=shapes.OPEN_SHEET,
        density="1.139",
        laydown="61.8",
    ),
    *(
        Plan(
            folder=f"recipes/candidate-{number}",
            batch_id=f"candidate-{number}",
            seed=60 + number,
            made=day(f"2026-10-{made:02d}"),
            measured=day(f"2026-10-{made + 2:02d}"),
            ink=ink(**effects(*amounts)),
            density="1.150",
            laydown="57.0",
        )
        for number, made, amounts in (
            (5, 12, (2.6, 22.0, 0.0)),
            (6, 12, (2.8, 22.0, 0.0)),
            (7, 13, (3.6, 22.0, 0.0)),
            (8, 13, (2.8, 24.5, 0.0)),
            (9, 14, (3.2, 20.0, 0.0)),
            (10, 14, (2.5, 22.0, 0.5)),
            (11, 15, (2.4, 20.0, 0.8)),
            (12, 15, (3.0, 22.0, 0.0)),
        )
    ),
)

RECIPES = {
    # (kind, name, role, unit): lot and value of each candidate in turn
    ("component", "grey pigment blend", "pigment", "wt %"): (("P-118",) * 12, ("16.0",) * 12),
    ("component", "rosin ester resin", "resin", "wt %"): (
        ("H-027",) * 12,
        ("22.0", "22.0", "22.0", "18.5", "22.0", "22.0", "22.0", "24.5", "20.0", "22.0", "20.0", "22.0"),
    ),
    ("component", "aromatic glycol ether", "solvent", "wt %"): (
        ("L-203",) * 12,
        ("41.8", "41.5", "41.9", "43.9", "42.2", "42.0", "41.2", "39.5", "43.6", "41.8", "43.6", "41.8"),
    ),
    ("component", "aliphatic alcohol", "solvent", "wt %"): (("L-211",) * 12, ("14.0",) * 3 + ("15.0",) + ("14.0",) * 8),
    ("component", "fumed silica", "gellant", "wt %"): (
        ("S-064", "S-064", "S-065", "S-065", *("S-064",) * 3, *("S-065",) * 5),
        ("3.0", "3.3", "1.9", "3.4", "2.6", "2.8", "3.6", "2.8", "3.2", "2.5", "2.4", "3.0"),
    ),
    ("component", "hydrogenated castor wax", "gellant", "wt %"): (
        ("W-009",) * 12,
        ("0.0", "0.0", "1.0", "0.0", "0.0", "0.0", "0.0", "0.0", "0.0", "0.5", "0.8", "0.0"),
    ),
    ("component", "fatty acid", "lubricant", "wt %"): (("F-031",) * 12, ("3.2",) * 12),
    ("process", "disperser speed", "", "1/min"): (("",) * 12, ("1200",) * 12),
    ("process", "top temperature while dispersing", "", "°C"): (("",) * 12, ("45", "45", "52", "45", *("45",) * 5, "52", "52", "45")),
    ("process", "passes over the mill", "", "1"): (("",) * 12, ("2", "2", "2", "3", *("2",) * 8)),
}
"""What the candidates are made of; the components of each close to 100 wt %."""
