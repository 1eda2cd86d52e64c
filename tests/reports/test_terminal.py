"""The page for the terminal, from a document alone."""

import io

import pytest

from rheokit.reports.terminal import print_record, record_tables


def line(outcome="conforming", value="3.80"):
    return {
        "id": "viscosity-100",
        "outcome": outcome,
        "reason": "because [bold]it[/bold] is",
        "limits": "3.4 Pa·s to 4.2 Pa·s",
        "estimate": {"unit": "Pa·s"},
        "shown": {"value": value, "standard_error": "0.05", "unit": "Pa·s"},
        "loads": [{"load": 1, "run": "loop_load1.csv", "reason": "", "shown": {"value": "3.80", "unit": "Pa·s"}}],
    }


@pytest.fixture
def document():
    finding = {"check": "x", "source": "loop_load1.csv", "value": None, "limit": None, "unit": "", "rows": None}
    return {
        "batch": {"id": "T-1"},
        "specification": {"product": "paste", "revision": "A", "decision_rule": "the rule", "rounding": "the absolute method"},
        "requirements": [line()],
        "findings": [{**finding, "severity": severity, "reason": f"a {severity}"} for severity in ("info", "invalid", "caution")],
        "cautions": ["a person decides"],
        "disposition": "release",
        "reason": "all conforming",
    }


class Terminal(io.StringIO):
    def isatty(self):
        return True


def printed(document, kind):
    file = kind()
    print_record(document, file)
    return file.getvalue()


@pytest.mark.parametrize("kind", [io.StringIO, Terminal])
def test_everything_is_on_the_page_and_nothing_is_markup(document, kind, monkeypatch):
    monkeypatch.setenv("COLUMNS", "150")
    page = printed(document, kind)
    for words in (
        "viscosity-100",
        "3.80",
        "0.05",
        "because [bold]it[/bold] is",
        "the rule",
        "the absolute method",
        "a person decides",
        "RELEASE  all conforming",
    ):
        assert words in page


def test_the_worst_finding_comes_first(document):
    assert [row[0] for row in record_tables(document)[-1].rows] == ["invalid", "caution", "info"]


def test_a_value_that_does_not_count_stands_in_brackets(document):
    document["requirements"] = [line("no measurement")]
    row = record_tables(document)[0].rows[0]
    assert row[0] == "○ no measurement"
    assert row[2:4] == ("(3.80)", "")


def test_a_narrow_terminal_breaks_no_id_and_no_number(document, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    page = printed(document, Terminal)
    assert "viscosity-100" in page
    assert "3.80" in page


def test_a_record_without_findings_has_no_such_table(document):
    document["findings"] = []
    assert [table.title for table in record_tables(document)][1:] == ["Loads"]
