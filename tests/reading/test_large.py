"""Long exports are read by another parser, and to the same numbers, steps, lines and findings as line by line."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import numpy as np
import pytest

import rheokit as rk
from rheokit.base.errors import ReadError
from rheokit.reading import memory, parts
from rheokit.reading.body import Body
from rheokit.reading.export import read_export
from rheokit.reading.large import read_large

HEAD = "Batch;B1\n\nStep;Time;Shear rate;Shear stress;Viscosity;T;Status\n;min;1/s;kPa;mPa·s;°C;\n"
ROWS = 12_000


def rows(count: int = ROWS, decimal: str = ".", offset: int = 0) -> list[str]:
    """Return points in which numbers have up to 17 digits, signs, exponents and missing words."""
    random = np.random.default_rng(5)
    rate, stress = np.linspace(1.0, 100.0, count), random.uniform(1e-3, 1e3, count)
    words = random.choice(["", "n/a", "---", "NaN", "Missing"], count)
    lines = []
    for index in range(count):
        viscosity = repr(float(stress[index] / rate[index])) if index % 97 else str(words[index])
        shown = f"{stress[index]:.6e}" if index % 3 else f"{stress[index]:+.4f}"
        cells = (
            str(1 + (index + offset) // 5000),
            f"{index * 0.1:.1f}",
            f"{rate[index]:.6g}",
            shown,
            viscosity,
            "23",
            "ok" if index % 5 else "TR",
        )
        lines.append(";".join(cells).replace(".", decimal))
    return lines


def blocks(between: str) -> str:
    """Return three blocks without a step column, each long enough to be read the fast way."""
    header, body = "Time;Shear rate;Shear stress\ns;1/s;Pa\n", []
    for block in range(3):
        lines = [f"{1 + index * 0.5:.2f};{1 + index % 50};{30 + (index * 7) % 1000 / 7:.4f}" for index in range(9_000 + block)]
        body.append((between.format(number=block + 1, header=header) if block else "") + "\n".join(lines) + "\n")
    return "Batch;B1\n" + ("Step 1\n" if "Step" in between else "") + header + "".join(body)


EVEN = {
    "step column, missing words, remarks": HEAD + "\n".join(rows()) + "\n",
    "decimal comma": HEAD + "\n".join(rows(decimal=",")),
    "line ends CR LF, byte order mark": ("\ufeff" + HEAD + "\n".join(rows()) + "\n").replace("\n", "\r\n"),
    "the last row cut short": HEAD + "\n".join(rows()) + "\n3;5",
    "notes behind the table": HEAD + "\n".join(rows()) + "\n\nEnd of data\nChecked: yes\n",
    "step names": "t [s];Step;M [N·m]\n" +
    "\n".join(f"{index};{'up' if index < 30000 else 'down'};{index % 77}.5" for index in range(60_000)),
    "step column at the end": "t [s];M [N·m];Step\n" +
    "\n".join(f"{index};{index % 77}.5;{1 + index // 30000:02d}" for index in range(60_000)),
    "blocks under headers": blocks("{header}"),
    "blocks announced, header once": blocks("Step {number}\n"),
    "blocks behind blank lines": blocks("\n"),
    "clock that starts again": "t [s];M [N·m]\n" + "\n".join(f"{index % 30000};{index % 77}.5" for index in range(60_000)),
    "clock times": "Time;M [N·m]\n" +
    "\n".join(f"00:{index // 600 % 60:02d}:{index / 10 % 60:04.1f};{index % 77}.5" for index in range(36_000)),
    "point numbers": "Point;t [s];M [N·m]\n" + "\n".join(f"{index};{index};{index % 77}.5" for index in range(60_000)),
    "an empty column": "t [s];M [N·m];T [°C]\n" + "\n".join(f"{index};{index % 77}.5;" for index in range(60_000)),
    "columns aside": "t [s];M [N·m];Result;\n" + "\n".join(f"{index};{index % 77}.5;x{index % 3};" for index in range(60_000)),
}  # fmt: skip


def middle(spoilt: str) -> str:
    lines = rows()
    lines[ROWS // 2] = spoilt
    return HEAD + "\n".join(lines) + "\n"


def row(time: str = "600.0", rate: str = "50", step: str = "2") -> str:
    return f"{step};{time};{rate};1;20;23;ok"


UNEVEN = {
    "a cell less": middle("2;600.0;50;1;20;23"),
    "a cell more": middle(row() + ";1"),
    "an empty cell more": middle(row() + ";"),
    "a blank line": middle(""),
    "a comment": middle("# " + row()),
    "a note": middle("paused"),
    "a numeric note": middle("12"),
    "a word": middle(row(rate="fast")),
    "another missing word": middle(row(rate="nOt MeAsUrEd")),
    "an infinite number": middle(row(rate="1e999")),
    "a word for infinity": middle(row(rate="INF")),
    "a signed word": middle(row(rate="-nan")),
    "a hexadecimal number": middle(row(rate="0x1A")),
    "an underscore": middle(row(rate="1_0")),
    "an exponent without digits": middle(row(rate="1e")),
    "two marks": middle(row(rate="1.2.3")),
    "thousands": middle(row(time="1,600.0")),
    "a space inside": middle(row(rate="5 0")),
    "spaces around": middle(row(rate=" 50  ")),
    "a Unicode minus": middle(row(rate="\N{MINUS SIGN}50")),
    "other digits": middle(row(rate="٣")),
    "a quoted cell": middle(row(rate='"50"')),
    "a step without name": middle(row(step="")),
    "a step written otherwise": middle(row(step="02")),
    "a step that comes back": middle(row(step="1")),
    "one cell less and one more": HEAD + "\n".join([*rows()[:6000], row()[:-3], row() + ";1", *rows()[6000:]]),
    "steps with a space": "Step;t [s];M [N·m]\n" + "\n".join(f"1 ;{index};{index % 77}.5" for index in range(60_000)),
    "a lone CR": middle(row() + "\r" + row()),
    "point numbers that start again": "Point;t [s];M [N·m]\n" +
    "\n".join(f"{index % 20000};{index};{index % 77}.5" for index in range(60_000)),
    "a column filled in the middle": "t [s];M [N·m];T [°C]\n" +
    "\n".join(f"{index};{index % 77}.5;{'23' if 9e3 < index < 1e4 else ''}" for index in range(60_000)),
}  # fmt: skip


def outcome(path) -> object:
    """Return all that reading an export gives, in a form that can be compared."""
    try:
        reading = read_export(path)
    except ReadError as error:
        return str(error)
    run = reading.run
    columns = [{name: values.tobytes() for name, values in step.columns.items()} for step in run.steps]
    findings = [str(finding) for finding in run.findings] + [str(finding) for step in run.steps for finding in step.findings]
    return columns, [step.rows for step in run.steps], findings, dict(run.metadata), run.source, reading.decisions


def body_of(path) -> Body:
    return parts.read_parts(path.read_bytes(), path, None).body


@pytest.mark.parametrize("name", EVEN)
def test_a_long_export_reads_as_line_by_line(write, monkeypatch, name):
    path = write(EVEN[name])
    assert path.stat().st_size > parts.LARGE
    read_large(path.read_bytes(), path, None)  # it goes the fast way: no NotEven
    fast, fast_body = outcome(path), body_of(path)
    monkeypatch.setattr(parts, "LARGE", np.inf)
    assert outcome(path) == fast
    slow_body = body_of(path)
    assert list(fast_body.lines) == list(slow_body.lines)
    assert fast_body.labels is None or list(fast_body.labels) == list(slow_body.labels)
    for quantity, cells in slow_body.written.items():
        for index in (0, 99, 100, 101, len(cells) // 2, len(cells) - 101, len(cells) - 100, len(cells) - 1, -1):
            assert fast_body.written[quantity][index] == cells[index]


@pytest.mark.parametrize("name", UNEVEN)
def test_what_is_not_even_is_decided_line_by_line(write, monkeypatch, name):
    path = write(UNEVEN[name])
    fast = outcome(path)
    monkeypatch.setattr(parts, "LARGE", np.inf)
    assert outcome(path) == fast


def test_several_threads_read_the_same_numbers(write, monkeypatch):
    monkeypatch.setattr("rheokit.reading.even._PART", 50_000)
    path = write(EVEN["step column, missing words, remarks"])
    fast = outcome(path)
    monkeypatch.setattr(parts, "LARGE", np.inf)
    assert outcome(path) == fast


@pytest.mark.parametrize(("limit", "value"), [("MOST_UNEVEN", 500_000), ("MOST_LINES", 2_000)])
def test_a_long_export_that_is_not_even_is_read_line_by_line_and_said(write, monkeypatch, caplog, limit, value):
    path = write(UNEVEN["a quoted cell"])
    before = rk.read_run(path)
    assert caplog.records == []
    monkeypatch.setattr(parts, limit, value)
    run = rk.read_run(path)
    said = (
        f"the table of {path.stat().st_size:,} bytes is not even (quotes, or an encoding of other than one byte a sign) and is read line by"
    )
    (finding,) = [finding for finding in run.findings if finding.check == "slow_reading"]
    assert finding.severity == "info"
    assert str(finding).startswith(said)
    (record,) = caplog.records
    assert record.levelname == "WARNING"
    assert record.getMessage().startswith(f"{path}: {said}")
    assert [one for one in run.findings if one is not finding] == list(before.findings)
    np.testing.assert_array_equal(run.steps[0].shear_stress, before.steps[0].shear_stress)


@pytest.mark.parametrize(("free", "said"), [(3_000_000, "where 3 MB are free"), (None, "where how much is free is not known")])
def test_a_long_export_that_is_not_even_is_refused_where_memory_is_short(write, monkeypatch, free, said):
    monkeypatch.setattr(parts, "MOST_UNEVEN", 500_000)
    monkeypatch.setattr(parts, "available_memory", lambda: free)
    with pytest.raises(
        ReadError, match=rf"is not even \(.+\), and reading it line by line takes \d+ MB of memory, {said}; split it, or export"
    ):
        rk.read_run(write(UNEVEN["a quoted cell"]))


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="other systems do not tell")
def test_the_memory_that_is_free_is_what_the_system_says(monkeypatch):
    told = {"/proc/meminfo": "MemTotal: 9000 kB\nMemAvailable: 4000 kB\n", "/sys/fs/cgroup/memory.max": "max\n"}
    monkeypatch.setattr(memory, "_lines", lambda path: told.get(path, "").splitlines())
    assert memory.available_memory() == 4_096_000
    told |= {"/sys/fs/cgroup/memory.max": "1000000\n", "/sys/fs/cgroup/memory.current": "300000\n"}
    assert memory.available_memory() == 700_000
    told |= {"/sys/fs/cgroup/memory.current": "1300000\n"}
    assert memory.available_memory() == 0
    monkeypatch.undo()
    assert 1_000_000 < memory.available_memory() < os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")


def test_a_short_export_loads_no_pandas(write):
    path = write(HEAD + "\n".join(rows(60)))
    program = "import sys, json, rheokit; rheokit.read_run(sys.argv[1]); print(json.dumps('pandas' in sys.modules))"
    done = subprocess.run([sys.executable, "-c", program, str(path)], capture_output=True, text=True, check=True)
    assert json.loads(done.stdout) is False
