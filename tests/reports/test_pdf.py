"""The PDF of a record: from the document alone, the same bytes each time, the decision on page one, and text from files stays text."""

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

import rheokit as rk
from rheokit.base.errors import OutputError
from rheokit.release.record import Record
from rheokit.reports.pdf import pdf

pypdf = pytest.importorskip("pypdf")
pytest.importorskip("typst")

SAMPLES = Path(__file__).resolve().parents[2] / "sample_rheometer_runs"


def record_of(name):
    return rk.check_batch(rk.read_batch(SAMPLES / name), rk.read_specification(SAMPLES / "specification.toml")).record


def pages_of(made, folder):
    path = folder / "record.pdf"
    path.write_bytes(made)
    return [re.sub(r"\s+", " ", page.extract_text()) for page in pypdf.PdfReader(path).pages]


@pytest.fixture(scope="module")
def record():
    return record_of("B26-041")


def test_the_written_record_gives_the_same_bytes_also_in_another_process(record, tmp_path):
    made = pdf(record.document)
    assert made.startswith(b"%PDF-")
    path = tmp_path / "record.json"
    path.write_bytes(record.to_bytes())
    program = (
        "import hashlib, sys; from pathlib import Path; from rheokit.release.record import Record; from rheokit.reports.pdf import pdf;"
        "made = pdf(Record.from_json(Path(sys.argv[1]).read_text('utf-8')).document); Path(sys.argv[2]).write_bytes(made)"
    )
    again = tmp_path / "again.pdf"
    subprocess.run([sys.executable, "-c", program, str(path), str(again)], check=True, env={"TZ": "Asia/Tokyo", "PATH": ""})
    assert again.read_bytes() == made
    assert pdf(Record.from_json(record.to_json()).document) == made


@pytest.mark.parametrize("name", ["B26-041", "B26-043", "B26-045", "B26-050"])
def test_page_one_holds_the_decision_and_every_requirement(name, tmp_path):
    document = record_of(name).document
    first, *evidence = pages_of(pdf(document), tmp_path)
    assert document["disposition"].upper() in first
    assert "a person decides" in first
    for line in document["requirements"]:
        assert line["id"] in first
        assert line["outcome"] in first
    for caution in document["cautions"]:
        assert caution in first
    behind = " ".join(evidence)
    for heading in ("What was measured", "Uncertainty", "Loads", "Exports"):
        assert heading in behind
    assert document["specification"]["sha256"] in behind.replace(" ", "")


@pytest.mark.parametrize("hostile", ["#panic()", "$x$ *bold* `raw` // gone", "\x1b[2J\u202e=cmd()", "half a pair \ud800", "<script>&\"'"])
def test_hostile_text_stays_text(record, tmp_path, hostile):
    document = json.loads(json.dumps(record.document))
    document["batch"]["id"] = hostile
    document["reason"] = hostile
    document["findings"].append({**document["findings"][0], "reason": hostile})
    first, *_ = pages_of(pdf(document), tmp_path)
    shown = hostile.encode("unicode_escape").decode().replace("\\'", "'")
    assert re.sub(r"\s", "", shown) in first.replace(" ", "")


def test_without_the_extra_one_line_says_what_to_do(record, monkeypatch):
    monkeypatch.setitem(sys.modules, "typst", None)
    with pytest.raises(OutputError, match=r"a PDF needs the extra 'pdf', which is not installed; run: pip install 'rheokit\[pdf\]'"):
        pdf(record.document)
