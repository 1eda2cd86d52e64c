"""Any layout, written by a writer of the tests' own, reads back to the printed digits, the right quantities and the right steps."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from studies.written_export import Form, Points, grid, rendered

import rheokit as rk

# Quantity to units as written: scale to SI, offset before it. BIPM, The International System of Units, 9th ed. (2019), tables 4, 7, 8.
PI = Fraction(math.pi)
UNITS = {
    "shear_rate": {"1/s": (1, 0), "s⁻¹": (1, 0), "1/min": (Fraction(1, 60), 0)},
    "shear_stress": {"Pa": (1, 0), "kPa": (1000, 0), "mPa": (Fraction(1, 1000), 0)},
    "viscosity": {"Pa·s": (1, 0), "mPa·s": (Fraction(1, 1000), 0), "mPas": (Fraction(1, 1000), 0)},
    "torque": {"N·m": (1, 0), "mN·m": (Fraction(1, 1000), 0), "µN·m": (Fraction(1, 10**6), 0), "mNm": (Fraction(1, 1000), 0)},
    "angular_velocity": {"rad/s": (1, 0), "1/min": (PI / 30, 0)},
    "temperature": {"°C": (1, Fraction("273.15")), "K": (1, 0)},
    "normal_force": {"N": (1, 0), "mN": (Fraction(1, 1000), 0)},
    "shear_strain": {"%": (Fraction(1, 100), 0), "1": (1, 0)},
}
CLOCKS = {"s": Fraction(1), "min": Fraction(60)}
PREAMBLES = ((), (("Batch", "B26-900"), ("Operator", "technician 2"), ("Set temperature", "23.0 °C"), ("Remark", "dull; but, fine")))
UNIT_PLACES = ["square", "round", "in", "slash", "comma", "row", "row in brackets"]
NOTES = ((), ("End of data",), ("Checked by technician 1", "Nothing to report"))

signless = st.one_of(
    st.floats(1e-4, 1e6).map(lambda value: f"{value:.5g}"),
    st.integers(1, 10**7).map(lambda value: f"{value / 1000:.3f}"),
    st.integers(0, 99999).map(str),
)
signed = st.tuples(st.sampled_from(["", "", "-"]), signless).map(lambda parts: parts[0] + parts[1] if float(parts[1]) else parts[1])


@st.composite
def points(draw: st.DrawFn, *, missing: bool = True) -> Points:
    """Draw what was measured: one clock or two, the shear rate, and any of the other quantities."""
    lengths = tuple(draw(st.lists(st.integers(2, 5), min_size=1, max_size=4)))
    count = sum(lengths)
    # Hundredths of a second, the first with two decimals: no reader can take it for thousands.
    increments = draw(st.lists(st.integers(1, 400_000), min_size=count, max_size=count))
    within = [np.cumsum([25, *part[1:]]).tolist() for part in np.split(np.array(increments), np.cumsum(lengths)[:-1])]
    step_time = [time for part in within for time in part]
    time = np.cumsum([25, *increments[1:]]).tolist()
    columns = {"time": ("s", tuple(f"{value / 100:.2f}" for value in time))}
    if draw(st.booleans()):
        columns["step_time"] = (draw(st.sampled_from(sorted(CLOCKS))), tuple(f"{value / 100:.2f}" for value in step_time))
    others = draw(st.sets(st.sampled_from(sorted(set(UNITS) - {"shear_rate"})), max_size=5))
    for name in ("shear_rate", *sorted(others)):
        cell = signed if name in {"torque", "normal_force", "shear_strain"} else signless
        cells = st.one_of(cell, st.just("")) if missing and name != "shear_rate" else cell
        column = tuple(draw(st.lists(cells, min_size=count, max_size=count)))
        if any(column):
            columns[name] = (draw(st.sampled_from(sorted(UNITS[name]))), column)
    return Points(columns=columns, lengths=lengths)


@st.composite
def text_forms(draw: st.DrawFn) -> Form:
    """Draw a layout of a text; what would be no file at all, such as blanks inside a heading between blanks, is never drawn."""
    delimiter = draw(st.sampled_from([",", ";", "\t", "|", " "]))
    decimal = draw(st.sampled_from([".", ","]))
    blanks = delimiter == " "
    thousands = draw(st.sampled_from(["", "", *({".", ",", "'"} - {decimal}), *([] if blanks else [" "])]))
    encoding = draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-be", "cp1252"]))
    narrow = encoding == "cp1252"
    return Form(
        encoding=encoding,
        suffix=draw(st.sampled_from([".csv", ".txt", ".tsv", ".dat", ""])),
        delimiter=delimiter,
        line_end=draw(st.sampled_from(["\n", "\r\n"])),
        decimal=decimal,
        thousands=thousands,
        minus=draw(st.sampled_from(["-", "-" if narrow else "\N{MINUS SIGN}"])),
        missing=draw(st.sampled_from(["n/a", "NaN", "---", *([] if blanks else [""])])),
        words=draw(st.sampled_from(["english", "german", *([] if narrow else ["symbols"])])),
        units=draw(
            st.sampled_from(["tight", "slash", "row"] if blanks else ["square", "round", "in", "slash", "comma", "row", "row in brackets"])
        ),
        steps=draw(st.sampled_from(["column", "announced", "announced once", "headers", "blank lines", "restarts"])),
        preamble=draw(st.sampled_from(PREAMBLES)),
        preamble_with=draw(st.sampled_from(["delimiter", "colon"])),
        comment=draw(st.sampled_from(["", "# "])),
        notes=draw(st.sampled_from(NOTES)),
        extra=tuple(draw(st.sets(st.sampled_from(["point", "status", "remark"])))) if not blanks else (),
        order=tuple(draw(st.permutations(range(12)))),
        clock=draw(st.booleans()),
        quoted=draw(st.booleans()) and not blanks,
    )


def prepared(measured: Points, form: Form) -> Points:
    """Fit the points to the form: only a clock that starts again tells steps apart by itself, and narrow encodings lack signs."""
    columns = dict(measured.columns)
    if form.steps == "restarts":
        unit, cells = columns.pop("step_time", ("s", ()))
        columns["time"] = (unit, cells or tuple(f"{0.25 + index:.2f}" for length in measured.lengths for index in range(length)))
    if form.encoding == "cp1252":
        columns = {name: (unit.replace("s⁻¹", "1/s"), cells) for name, (unit, cells) in columns.items()}
    if form.clock:
        columns["time"] = ("s", columns["time"][1])
    return Points(columns=columns, lengths=measured.lengths)


def si(name: str, unit: str, cell: str) -> float:
    """Return a printed number in SI, rounded once."""
    if not cell:
        return math.nan
    scale, offset = (CLOCKS[unit], 0) if name in {"time", "step_time"} else UNITS[name][unit]
    return float((Fraction(cell) + offset) * scale)


TRIO = ("shear_rate", "shear_stress", "viscosity")


def following(wanted: dict[str, np.ndarray], lengths: tuple[int, ...]) -> dict[str, np.ndarray]:
    """Return for each of rate, stress and viscosity what follows on the sheets where it alone of the three is empty; NaN elsewhere."""
    found = {name: np.full(sum(lengths), np.nan) for name in TRIO}
    for end, length in zip(np.cumsum(lengths).tolist(), lengths, strict=True):
        sheet = slice(end - length, end)
        here = {name: wanted[name][sheet] for name in TRIO if name in wanted and not np.isnan(wanted[name][sheet]).all()}
        absent = [name for name in TRIO if name not in here]
        if len(absent) == 1:
            rate, stress, viscosity = (here.get(name, np.array(np.nan)) for name in TRIO)
            with np.errstate(all="ignore"):
                value = {"shear_rate": stress / viscosity, "shear_stress": viscosity * rate, "viscosity": stress / rate}[absent[0]]
            found[absent[0]][sheet] = np.where(np.isfinite(value), value, np.nan)
    return found


def check(run: rk.Run, measured: Points, *, sheets: bool = False) -> None:
    """Compare a run with what was written; each sheet is a table by itself, in which a column without a number counts as absent."""
    assert tuple(len(step) for step in run.steps) == measured.lengths
    wanted = {name: np.array([si(name, unit, cell) for cell in cells]) for name, (unit, cells) in measured.columns.items()}
    follows = following(wanted, measured.lengths) if sheets else {}
    for name, values in wanted.items():
        read = np.concatenate([step.column(name) for step in run.steps])
        also = np.isfinite(follows[name]) if name in follows else np.zeros(values.size, dtype=bool)
        # At most three roundings: the number, its conversion, and π or the offset; a printed digit is 1e-7 at the least.
        np.testing.assert_allclose(read[~also], values[~also], rtol=7e-16, atol=0.0, err_msg=name)
        # Of what follows from two numbers, three roundings of each and one more, here and there.
        np.testing.assert_allclose(read[also], follows[name][also] if name in follows else [], rtol=1.6e-15, atol=0.0, err_msg=name)
    derived = set(TRIO) if len(set(TRIO) & set(measured.columns)) == 2 else set()
    clock = {"step_time"} if "step_time" not in measured.columns else set()
    assert set(run.steps[0].columns) - clock == (set(measured.columns) | derived) - clock


@given(measured=points(), form=text_forms())
@settings(max_examples=500, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_text_reads_back_to_the_printed_digits(tmp_path, measured, form):
    written = prepared(measured, form)
    path = tmp_path / f"export{form.suffix}"
    path.write_bytes(rendered(grid(written, form), form))
    run = rk.read_run(path)
    check(run, written)
    for key, value in form.preamble:
        assert run.metadata[key] == value


@st.composite
def workbook_forms(draw: st.DrawFn) -> Form:
    """Draw a layout of a workbook: numbers are numbers there, and have no signs of their own."""
    return Form(
        container=(container := draw(st.sampled_from(["xlsx", "ods"]))),
        suffix=f".{container}",
        missing=draw(st.sampled_from(["", "n/a"])),
        words=draw(st.sampled_from(["english", "german", "symbols"])),
        units=draw(st.sampled_from(UNIT_PLACES)),
        steps=draw(st.sampled_from(["sheets", "sheets", "column", "announced", "headers", "blank lines", "restarts"])),
        preamble=draw(st.sampled_from(PREAMBLES)),
        notes=draw(st.sampled_from(NOTES)),
        extra=tuple(draw(st.sets(st.sampled_from(["point", "status", "remark"])))),
        order=tuple(draw(st.permutations(range(12)))),
        margin=draw(st.integers(0, 2)),
    )


@given(measured=points(), form=workbook_forms())
@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_workbook_reads_back_to_its_numbers(tmp_path, measured, form):
    written = prepared(measured, form)
    path = tmp_path / f"export{form.suffix}"
    path.write_bytes(rendered(grid(written, form), form))
    run = rk.read_run(path)
    check(run, written, sheets=form.steps == "sheets")
    for key, value in form.preamble:
        assert run.metadata[key] == value
