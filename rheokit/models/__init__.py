"""The flow laws, shear stress [Pa] over shear rate [1/s], each listed once; being listed is what gets a law tested and offered."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from rheokit.law import Law
from rheokit.models.bingham import BINGHAM
from rheokit.models.carreau_yasuda import CARREAU_YASUDA
from rheokit.models.casson import CASSON
from rheokit.models.cross import CROSS
from rheokit.models.herschel_bulkley import HERSCHEL_BULKLEY
from rheokit.models.herschel_bulkley_plateau import HERSCHEL_BULKLEY_PLATEAU
from rheokit.models.newtonian import NEWTONIAN
from rheokit.models.power_law import POWER_LAW
from rheokit.models.sisko import SISKO

__all__ = ["MODELS"]

_LIST = (NEWTONIAN, POWER_LAW, BINGHAM, HERSCHEL_BULKLEY, CASSON, CROSS, CARREAU_YASUDA, SISKO, HERSCHEL_BULKLEY_PLATEAU)

MODELS: Mapping[str, Law] = MappingProxyType({law.name: law for law in _LIST})
"""Name to law."""
