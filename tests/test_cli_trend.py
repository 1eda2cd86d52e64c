"""The command `rheokit trend`, on a register of the invented sample batches."""

from __future__ import annotations

from pathlib import Path

import pytest

from rheokit.cli import main
from rheokit.register.history import decide, register_rows
from rheokit.register.store import Register
from rheokit.release.result_rows import rows_from_text, rows_to_text

SAMPLES = Path(__file__).resolve().parents[1] / "sample_rheometer_runs"


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    path = tmp_path_factory.mktemp("register") / "plant.register"
    main(["register", "create", str(path)])
    for name in ("B26-041", "B26-042", "B26-043", "B26-044", "B26-048", "B26-052"):
        folder, spec = str(SAMPLES / name), str(SAMPLES / "specification.toml")
        main(["check", folder, "--spec", spec, "--register", str(path), "--operator", "technician 2"])
    return path


def test_a_trend_is_printed_and_written_and_an_alarm_rejects_nothing(file, tmp_path, capsys):
    assert main(["trend", str(file), "--requirement", "viscosity-100", "--output", str(tmp_path)]) == 0
    printed = capsys.readouterr().out
    assert "viscosity-100" in printed
    assert "never a reject" in printed
    (page,) = tmp_path.glob("*.html")
    assert f"up to register entry 6, hash {Register(file).last_hash}" in page.read_text(encoding="utf-8")
    assert main(["trend", str(file), "--requirement", "viscosity-100", "--output", str(tmp_path)]) == 4
    assert "is there already and is not replaced" in capsys.readouterr().err


def test_what_is_void_or_of_another_product_is_left_out(file, tmp_path):
    copy = tmp_path / "copy.register"
    copy.write_bytes(file.read_bytes())
    for suffix in ("-wal", "-shm"):
        beside = file.with_name(file.name + suffix)
        if beside.exists():
            copy.with_name(copy.name + suffix).write_bytes(beside.read_bytes())
    register = Register(copy)
    assert {row.batch for row in register_rows(register)} == {"B26-041", "B26-042", "B26-043", "B26-044", "B26-048", "B26-052"}
    decide(register, "void", batch="B26-043", operator="A", role="head", reason="wrong cone was mounted", about=3)
    assert "B26-043" not in {row.batch for row in register_rows(register)}
    assert {row.batch for row in register_rows(register, last=1)} == {"B26-052"}
    assert register_rows(register, product="another") == []


def test_rows_survive_their_text(file):
    held = register_rows(Register(file))
    first = [row for row in held if row.entry == 1]
    assert rows_from_text(rows_to_text(first), batch="B26-041", number=1) == first
    assert rows_from_text("", batch="B26-041", number=1) == []


def test_wrong_usage_and_an_unknown_requirement(file, capsys):
    with pytest.raises(SystemExit):
        main(["trend", str(file), "--base", "1"])
    assert main(["trend", str(file), "--requirement", "nothing"]) == 4
    assert "no check has a requirement 'nothing'; there are viscosity-100, " in capsys.readouterr().err
