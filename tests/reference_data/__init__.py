"""Numbers from the outside world, each file with its source; a file that does not say where it comes from is refused."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

FIELDS = ("source", "obtained", "digits")
FOLDER = Path(__file__).parent


def reference(name: str, folder: Path = FOLDER) -> dict[str, Any]:
    """Return one file of reference numbers.

    `source` says who published them and where, `obtained` how they got here (seen, from memory, recomputed), `digits` how many of
    them can be relied on.
    """
    held: dict[str, Any] = json.loads((folder / f"{name}.json").read_text(encoding="utf-8"))
    missing = [field for field in FIELDS if not str(held.get(field) or "").strip()]
    if missing:
        raise ValueError(f"{name}.json does not say its {' and its '.join(missing)}; reference numbers without them are refused")
    return held
