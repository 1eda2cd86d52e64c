"""A page written into a folder, whole or not at all."""

from __future__ import annotations

from pathlib import Path

from rheokit.base.errors import OutputError, printable

__all__ = ["write_page"]


def write_page(folder: Path, name: str, page: str) -> Path:
    """Write a page into a folder, which is made where it is missing, and return its path; a file of that name is never replaced.

    Raises
    ------
    OutputError
        When the file is there already, or cannot be written.
    """
    path = folder / name
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with path.open("x", encoding="utf-8", errors="xmlcharrefreplace", newline="\n") as file:
            file.write(page)
    except FileExistsError:
        raise OutputError(f"{printable(path)}: is there already and is not replaced; name another folder") from None
    except OSError as error:
        raise OutputError(f"{printable(path)}: cannot be written ({error.strerror or error}); name a folder you may write to") from None
    return path
