"""What the page about precision shows is run, and its claims are those of the results."""

import re
from pathlib import Path

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "precision.md").read_text(encoding="utf-8")


def test_the_page_runs_from_top_to_bottom(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    held = {}
    for block in re.findall(r"(?ms)^```python\n(.*?)^```", PAGE):
        exec(compile(block, "precision.md", "exec"), held)
    printed = capsys.readouterr().out
    for words in ("mean of 3 loads weighted", "precision of 4 laboratories", "distinct categories", "limits of agreement", "bias 0."):
        assert words in printed
    (entry,) = held["rk"].read_precision_file(tmp_path / "precision.toml").entries
    assert entry == held["entry"]
    # Thirteen results of four operators leave nine degrees of freedom inside them.
    assert entry.repeatability.degrees_of_freedom == 9.0
    assert held["loads"].degrees_of_freedom == 2.0
    assert held["gauge"].variations["operator_variation"].interval.upper > 5.0 * held["gauge"].variations["operator_variation"].value
