"""How a frozen dataclass travels to another process, or is copied deeply: as its fields, checked and frozen again on arrival."""

from __future__ import annotations

from types import MappingProxyType
from typing import Any

__all__ = ["Carried"]


class Carried:
    """Base of the frozen dataclasses that hold read-only mappings or arrays.

    A read-only mapping cannot be pickled, and an array comes back writable; building the object again sets both right.
    """

    def __reduce__(self) -> tuple[Any, ...]:
        fields = {name: dict(held) if isinstance(held, MappingProxyType) else held for name, held in vars(self).items()}
        return _rebuilt, (type(self), fields)


def _rebuilt(kind: type[Carried], fields: dict[str, object]) -> Carried:
    return kind(**fields)
