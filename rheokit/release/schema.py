"""The JSON Schema of a specification file, made from its shape and the list of characteristics.

`rheokit specification --schema > docs/specification.schema.json` writes the published one.
"""

from __future__ import annotations

import json
from typing import Any

from rheokit.base.run import STEP_KINDS
from rheokit.characteristics import CHARACTERISTICS, AtRule, Characteristic
from rheokit.release.specification_text import SpecificationText
from rheokit.screening import ALL_CHECKS

__all__ = ["schema_text", "specification_schema", "without_null"]

Json = dict[str, Any]
AMOUNT = {"type": "string", "description": "a number and its unit, such as '100 1/s'"}


def specification_schema() -> Json:
    """Return the schema (JSON Schema, draft 2020-12) of a specification file as a document.

    A TOML date counts as its text (`2026-09-01`). What a schema cannot say (that units fit, that the lower limit lies below the upper)
    is said by `read_specification`.
    """
    schema = without_null(SpecificationText.model_json_schema())
    requirement = schema["$defs"]["RequirementText"]
    requirement["properties"]["characteristic"] = {
        "title": "Characteristic",
        "enum": list(CHARACTERISTICS),
        "description": "; ".join(f"{entry.name}: {entry.meaning}" for entry in CHARACTERISTICS.values()),
    }
    requirement["properties"]["step"] = {
        "title": "Step",
        "anyOf": [{"enum": list(STEP_KINDS)}, {"type": "integer", "minimum": 1}],
        "description": "kind of the step, or its number in the run",
    }
    schema["properties"]["screening"] = _screening()
    requirement["anyOf"] = [{"required": ["lower"]}, {"required": ["upper"]}]
    requirement["allOf"] = [_case(entry) for entry in CHARACTERISTICS.values()]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **schema,
        "title": "Release specification, format 1",
        "description": "A specification file (TOML) that a batch is judged against.",
    }


def without_null(part: Any) -> Any:
    """Return a part of a schema without the alternative `null`, which TOML does not have: a key that is not wanted is left out."""
    if isinstance(part, list):
        return [without_null(held) for held in part]
    if not isinstance(part, dict):
        return part
    kept = {key: without_null(held) for key, held in part.items() if not (key == "default" and held is None)}
    choices = [choice for choice in kept.pop("anyOf", ()) if choice != {"type": "null"}]
    if len(choices) == 1:
        return {**kept, **choices[0]}
    return {**kept, "anyOf": choices} if choices else kept


def _case(entry: Characteristic) -> Json:
    """Return what else holds for a requirement on one characteristic."""
    needed = {"step": ["test", "step"], "loop": ["test"], "entered": []}[entry.needs]
    absent: Json = {name: {"not": {}} for name in ("test", "step") if name not in needed}
    conditions = {
        "type": "object",
        "properties": {name: _condition(rule) for name, rule in entry.at.items()},
        "required": list(entry.at),
        "additionalProperties": False,
    }
    then: Json = {"properties": {"at": conditions, **absent}}
    if required := [*needed, *(["at"] if entry.at else [])]:
        then["required"] = required
    return {"if": {"properties": {"characteristic": {"const": entry.name}}}, "then": then}


def _screening() -> Json:
    """Return the limits that the checks of a measurement may be given."""
    limits = {
        check.name: {
            "type": "number",
            "minimum": check.lowest,
            "maximum": check.highest,
            "description": f"{check.number} [{check.unit}]; {check.limit:g} where none is set ({check.source})",
        }
        for check in ALL_CHECKS
    }
    return {
        "title": "Screening",
        "description": "limits of the checks of a measurement that differ from the usual ones",
        "type": "object",
        "properties": limits,
        "additionalProperties": False,
    }


def _condition(rule: AtRule) -> Json:
    said = {"description": rule.meaning} if rule.meaning else {}
    if rule.choices:
        return {"enum": list(rule.choices), **said}
    if rule.count == 1:
        return {**AMOUNT, **said}
    return {"type": "array", "items": dict(AMOUNT), "minItems": rule.count, "maxItems": rule.count, **said}


def schema_text() -> str:
    """Return the schema as text, the same each time."""
    return json.dumps(specification_schema(), ensure_ascii=False, indent=1) + "\n"
