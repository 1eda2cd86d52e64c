"""Read the bytes of a file: a regular file of bearable size, or a plain refusal."""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Callable
from functools import partial
from threading import Thread

from rheokit.base.errors import MissingFileError, ReadError

__all__ = ["MOST_BYTES", "PathText", "read_bytes", "sha256_beside", "sha256_of"]

PathText = str | os.PathLike[str]

MOST_BYTES = 256_000_000
"""An export of one load is tens of kilobytes, one of a million points tens of millions of bytes; what is larger is not looked at."""

_LONG = 1_000_000
"""[bytes] Below, a thread costs more than the sha256."""


def read_bytes(path: PathText, *, most: int = MOST_BYTES) -> bytes:
    """Return the bytes of a regular file of at most `most` bytes.

    Raises
    ------
    MissingFileError
        When there is no such file.
    ReadError
        When it is a folder, a device, too large, or may not be read.
    """
    try:
        found = os.stat(path)  # noqa: PTH116 - in a batch of a thousand exports, a Path costs as much as the file
        if stat.S_ISDIR(found.st_mode):
            raise ReadError(path, "this is a folder, not a file", remedy="name one export, or read the folder with read_batch")
        if not stat.S_ISREG(found.st_mode):
            raise ReadError(path, "this is not a regular file")
        if found.st_size > most:
            raise _too_large(path, most)
        with open(path, "rb", buffering=0) as file:  # noqa: PTH123 - as above
            data = file.readall()
    except FileNotFoundError:
        raise MissingFileError(path, "there is no such file") from None
    except OSError as error:
        raise ReadError(path, f"the file cannot be opened ({error.strerror or type(error).__name__})") from None
    except ValueError as error:
        if isinstance(error, ReadError):
            raise
        raise ReadError(path, f"this is no file name ({error})") from None  # a name that holds a NUL
    if len(data) > most:  # it grew meanwhile
        raise _too_large(path, most)
    return data


def _too_large(path: PathText, most: int) -> ReadError:
    return ReadError(path, f"the file is larger than {most:,} bytes", remedy="an export holds one load; split it")


def sha256_beside(data: bytes) -> Callable[[], str]:
    """Return what will give the sha256; that of a long file is worked out beside what else is done meanwhile."""
    if len(data) < _LONG:
        return partial(sha256_of, data)
    found: list[str] = []
    beside = Thread(target=lambda: found.append(sha256_of(data)))
    beside.start()

    def joined() -> str:
        beside.join()
        return found[0]

    return joined


def sha256_of(data: bytes) -> str:
    """Return the sha256 of bytes as 64 hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()
