"""The record: pure JSON, the same bytes each time, written whole and never over another."""

import json
import os
from pathlib import Path

import pytest

from rheokit.base.errors import OutputError
from rheokit.release.check import check_batch
from rheokit.release.record import FORMAT, Record, pure
from rheokit.release.specification_file import read_specification


@pytest.fixture
def record(make_batch, write_specification):
    return check_batch(make_batch(), read_specification(write_specification())).record


def test_the_same_check_gives_the_same_bytes(record, make_batch, write_specification):
    again = check_batch(make_batch(), read_specification(write_specification())).record
    assert (record.to_json(), record.id, record.file_name) == (again.to_json(), again.id, again.file_name)


def test_it_is_read_back_as_it_was_written(record):
    assert Record.from_json(record.to_json()).document == json.loads(record.to_json())
    assert Record.from_json(record.to_json()).id == record.id


def test_another_document_is_refused():
    with pytest.raises(ValueError, match=FORMAT):
        Record.from_json('{"format": "something else"}')


def test_open_ends_are_words_and_no_number_is_null():
    assert [pure(float(text)) for text in ("inf", "-inf", "nan", "1.5")] == ["infinite", "minus infinite", None, 1.5]


def test_it_holds_no_path_of_the_machine(record, tmp_path):
    assert str(tmp_path) not in record.to_json()


def test_writing_leaves_one_file_and_nothing_half_done(record, tmp_path):
    path = record.write(tmp_path / "records")
    assert path.read_text(encoding="utf-8") == record.to_json()
    assert [file.name for file in path.parent.iterdir()] == [path.name]


def test_an_old_record_is_never_replaced(record, tmp_path):
    path = record.write(tmp_path)
    path.write_text("kept", encoding="utf-8")
    with pytest.raises(OutputError, match="is there already and is not replaced"):
        record.write(tmp_path)
    assert path.read_text(encoding="utf-8") == "kept"
    assert [file.name for file in tmp_path.glob("*.json")] == [path.name]
    assert not list(tmp_path.glob(".*"))


def test_the_batch_folder_is_never_written_to(record, tmp_path):
    for inside in (tmp_path, tmp_path / "deeper" / "still", tmp_path / "x" / ".."):
        with pytest.raises(OutputError, match="lies in the batch folder"):
            record.write(inside, never_inside=tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["specification.toml"]


def test_a_folder_that_cannot_be_made_is_said(record, tmp_path):
    (tmp_path / "taken").write_text("a file")
    with pytest.raises(OutputError, match="is no folder and cannot be made one"):
        record.write(tmp_path / "taken" / "below")


def test_a_hostile_batch_name_makes_a_tame_file_name(record):
    document = dict(record.document)
    document["batch"] = {**document["batch"], "id": "../../etc/\x1b[2J<b>"}
    assert Record(document=document).file_name.startswith("etc_2J_b-")


def test_a_colleague_may_read_it(record, tmp_path):
    assert record.write(tmp_path).stat().st_mode & 0o044 == 0o044 & ~_umask()


def _umask():
    held = os.umask(0o022)
    os.umask(held)
    return held


def test_a_name_that_utf8_cannot_hold_is_escaped(record, tmp_path):
    document = dict(record.document)
    document["runs"] = [{"name": "loop\udcff.csv"}]
    path = Record(document=document).write(tmp_path)
    assert Record.from_json(path.read_text(encoding="utf-8")).document["runs"] == [{"name": "loop\udcff.csv"}]


def test_a_file_system_without_links_gets_its_record_too(record, tmp_path, monkeypatch):
    def refuse(self, target):
        raise OSError(1, "Operation not permitted")

    monkeypatch.setattr(Path, "hardlink_to", refuse)
    path = record.write(tmp_path)
    assert path.read_bytes() == record.to_bytes()
    with pytest.raises(OutputError, match="is not replaced"):
        record.write(tmp_path)


def test_no_number_is_never_written(record):
    with pytest.raises(ValueError, match="not JSON compliant"):
        Record(document={**record.document, "x": float("nan")}).to_json()


def test_a_terminal_gets_ascii(record):
    document = {**record.document, "operator": "\x9b31m"}
    assert Record(document=document).to_json(ascii_only=True).isascii()
