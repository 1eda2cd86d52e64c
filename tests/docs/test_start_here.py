"""The start page: its pictures and links are there, and small."""

import re
from pathlib import Path

DOCS = Path(__file__).resolve().parents[2] / "docs"


def test_every_picture_and_link_is_there_and_small():
    targets = re.findall(r"\]\(([^)]+)\)", (DOCS / "start_here.md").read_text(encoding="utf-8"))
    pictures = [DOCS / target for target in targets if target.endswith(".png")]
    assert len(pictures) == 4
    assert [target for target in targets if not (DOCS / target).is_file()] == []
    assert max(path.stat().st_size for path in pictures) < 150_000
