"""Encodings are told by rules that leave one reading; clock times are seconds."""

from __future__ import annotations

import math

import pytest

import rheokit as rk
from rheokit.base.errors import ReadError
from rheokit.reading.inspection import inspect_export
from rheokit.reading.text import decode_export

TEXT = "Gerät;Prüfstand 2\nt [s];T [°C];γ̇ [1/s]\n1;23;2\n"
NARROW = TEXT.replace("γ̇", "Schergefälle")
WRITTEN = {
    "UTF-8": TEXT.encode(),
    "UTF-8 with byte order mark": TEXT.encode("utf-8-sig"),
    "UTF-16, little-endian, with byte order mark": b"\xff\xfe" + TEXT.encode("utf-16-le"),
    "UTF-16, big-endian, with byte order mark": b"\xfe\xff" + TEXT.encode("utf-16-be"),
    "UTF-16, little-endian, without byte order mark": TEXT.encode("utf-16-le"),
    "UTF-16, big-endian, without byte order mark": TEXT.encode("utf-16-be"),
    "cp1252": NARROW.encode("cp1252"),
}


@pytest.mark.parametrize("encoding", WRITTEN)
def test_every_encoding_reads_to_the_same_and_is_named(write, encoding):
    path = write(WRITTEN[encoding])
    run = rk.read_run(path)
    assert run.metadata == {"Gerät": "Prüfstand 2"}
    assert run.steps[0].columns["temperature"].tolist() == [296.15]
    assert run.steps[0].shear_rate.tolist() == [2.0]
    assert dict(inspect_export(path)[0].rows)["encoding"] == encoding
    told = [str(finding) for finding in run.findings if finding.check == "encoding"]
    assert bool(told) == (encoding == "cp1252" or encoding.endswith("without byte order mark"))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "cp1252"])
def test_a_layout_names_the_encoding_and_it_counts(write, encoding):
    layout = write(f'format = 1\nencoding = "{encoding}"\n', "layout.toml")
    assert rk.read_run(write(NARROW.encode(encoding)), layout=layout).metadata == {"Gerät": "Prüfstand 2"}
    with pytest.raises(ReadError, match=r"run_07\.csv"):
        rk.read_run(write(NARROW.encode("utf-16" if encoding != "utf-16" else "cp1252")), layout=layout)


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"a\0b\0\0c", "this is a binary file, not text"),
        (b"a\0b", "this is a binary file, not text"),
        ("t\x07".encode("utf-16-le"), "this is a binary file, not text"),
        (b"\xff\xfe\x00\xd8", "the text is not whole UTF-16, little-endian, from byte 0 on"),
        ("°".encode() + b"\n\xb0", r"line 2: the byte 0xb0 is not UTF-8 text, though line 1 holds the UTF-8 sign '°'"),
        (b"\n\n\x8d", "line 3: the byte 0x8d is not UTF-8 text"),
        (b"\xff\xfe", "the file is empty"),
        (b" \n\t", "the file is empty"),
    ],
)
def test_bytes_with_no_reading_are_refused(data, message):
    with pytest.raises(ReadError, match=message):
        decode_export(data, "run.csv")


@pytest.mark.parametrize(
    ("heading", "cells", "seconds"),
    [
        ("Time", ("00:00:01", "0:01:02.5", "100:00:00"), [1.0, 62.5, 360_000.0]),
        ("Zeit [hh:mm:ss]", ("00:00:01", "---", "00:00:03"), [1.0, None, 3.0]),
        ("Time (min:s)", ("0:01", "90:30,25"), [1.0, 5430.25]),
        ("Time", ("2026-09-14T23:59:59.5", "2026-09-15T00:00:01"), [0.0, 1.5]),
        ("Time", ("2026-01-03 23:59:58", "2026-01-04", "2026-01-04 00:00:02"), [0.0, 2.0, 4.0]),
        ("Zeit", ("03.01.2026 23:59:58", "04.01.2026 00:00:01"), [0.0, 3.0]),
        ("Uhrzeit", ("3.1.2026, 9:59:58,250", "n.v.", "3.1.2026, 10:00:00,000"), [0.0, None, 1.75]),
        ("Zeit [hh:mm:ss]", ("31.12.25  23:59:59", "01.01.26  00:00:01 Uhr"), [0.0, 2.0]),
        ("Uhrzeit", ("2026-09-14 08:00:00+02:00", "2026-09-14 06:00:01+00:00"), [0.0, 1.0]),
    ],
)
def test_clock_times_are_seconds(write, heading, cells, seconds):
    run = rk.read_run(write(f"{heading};M [N·m];Ω [rad/s];γ̇ [1/s]\n" + "".join(f"{cell};1;1;1\n" for cell in cells)))
    read = [None if math.isnan(value) else value for value in run.steps[0].time.tolist()]
    assert read == seconds


@pytest.mark.parametrize(
    ("heading", "cells", "message"),
    [
        (
            "Time",
            ("08:40", "08:41"),
            r"line 1, column 1 \('Time'\): time has no unit, and '08:40' may be minutes and seconds, or hours and minutes; write the unit "
            "'mm:ss' into the header if they are minutes and seconds, or export hours, minutes and seconds",
        ),
        (
            "Time [s]",
            ("08:40", "08:41"),
            r"line 2, .*: '08:40' is not a number; if it is a clock time, name 'mm:ss' or 'hh:mm:ss' as the unit",
        ),
        ("Time [mm:ss]", ("00:08:40",), r"line 2, .*: '00:08:40' is no clock time; the column holds mm:ss; if this is hh:mm:ss, name that"),
        ("Time [hh:mm:ss]", ("08:40",), r"line 2, .*: '08:40' is no clock time; the column holds hh:mm:ss; if this is mm:ss, name that as"),
        (
            "Time",
            ("1/3/2026 11:59:58 PM",),
            r"time has no unit, and '1/3/2026 11:59:58 PM' is no date and time with one reading; write it as",
        ),
        ("Zeit", ("31.04.2026 23:59:58",), r"time has no unit, and '31.04.2026 23:59:58' is no date and time with one reading"),
        (
            "Zeit",
            ("03.01.2026 23:59:58", "03.01.2026 24:00:01"),
            r"line 3, .*: '03.01.2026 24:00:01' is no clock time; the column holds date",
        ),
        ("Time [hh:mm:ss]", ("00:01:00", "01:60:00"), r"line 3, column 1 .*'01:60:00' is no clock time; the column holds hh:mm:ss"),
        ("Time", ("00:01:00", "75"), r"line 3, column 1 \('Time'\): '75' is no clock time"),
        ("Time", ("2026-09-14T08:00:00", "2026-09-14T08:00:00Z"), r"line 3, column 1 .* do not both name an offset from UTC"),
    ],
)
def test_clock_times_that_are_none_are_refused(write, heading, cells, message):
    with pytest.raises(ReadError, match=message):
        rk.read_run(write(f"{heading};γ̇ [1/s]\n" + "".join(f"{cell};1\n" for cell in cells)))
