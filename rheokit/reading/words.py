"""Which words and symbols mean which quantity, and which words mean that a number is missing: tables, nothing else.

Words are compared without regard to capitals, hyphens, underscores and points; symbols exactly, since `T` and `t` differ.
"""

from __future__ import annotations

import re
import unicodedata

__all__ = ["MISSING_WORDS", "NEEDS_NO_UNIT", "STEP", "announces_step", "fold", "meaning_of", "names_step", "role_of"]

STEP = "step"
"""Meaning of a column that says which step a row belongs to."""

NEEDS_NO_UNIT = frozenset({"loss_factor"})
"""Quantities that are only ever written as plain numbers; a strain may be in per cent, so it is not among them."""

_WORDS = {
    STEP: "step, step number, step no, step name, step index, segment, segment number, interval, phase, abschnitt, schritt, "
    "interval number, step type, abschnittsnummer, abschnitt nr, schritt nr, intervall",
    "time": "time, elapsed time, total time, test time, global time, run time, clock time, time of day, date and time, "
    "zeit, messzeit, gesamtzeit, versuchszeit, uhrzeit",
    "step_time": "step time, time in step, segment time, interval time, time since step start, abschnittszeit, zeit im abschnitt",
    "shear_rate": "shear rate, rate of shear, shearrate, gamma dot, gammadot, d gamma/dt, scherrate, schergeschwindigkeit, schergefälle, "
    "geschwindigkeitsgefälle, schergeschwindigkeitsgefälle",
    "shear_stress": "shear stress, stress, shearstress, tau, sigma, schubspannung, scherspannung",
    "viscosity": "viscosity, apparent viscosity, shear viscosity, dynamic viscosity, dyn viscosity, eta, viskosität, "
    "scheinbare viskosität, dynamische viskosität, dyn viskosität",
    "shear_strain": "shear strain, strain, strain amplitude, shear strain amplitude, gamma, deformation, scherdeformation",
    "temperature": "temperature, sample temperature, temp, temperatur, probentemperatur, messtemperatur",
    "torque": "torque, moment, drehmoment",
    "angular_velocity": "angular velocity, angular speed, rotational speed, speed of rotation, speed, drehzahl, winkelgeschwindigkeit",
    "angular_frequency": "angular frequency, omega, kreisfrequenz",
    "frequency": "frequency, frequenz",
    "normal_force": "normal force, axial force, normalkraft",
    "storage_modulus": "storage modulus, speichermodul",
    "loss_modulus": "loss modulus, verlustmodul",
    "complex_viscosity": "complex viscosity, komplexe viskosität",
    "loss_factor": "loss factor, damping factor, tan delta, tan(delta), tandelta, verlustfaktor",
    "creep_compliance": "creep compliance, compliance, kriechnachgiebigkeit",
}

_SYMBOLS = {
    "time": "t",
    "step_time": "t_s ts",  # the subscript letter of tₛ folds to s
    "shear_rate": "γ̇ γ' dγ/dt",
    "shear_stress": "τ σ",
    "viscosity": "η",
    "shear_strain": "γ",
    "temperature": "T ϑ",
    "torque": "M",
    "angular_velocity": "Ω n",
    "angular_frequency": "ω",
    "frequency": "f",
    "normal_force": "F_N FN F_n Fn",
    "storage_modulus": "G'",
    "loss_modulus": "G''",
    "complex_viscosity": "|η*| η*",
    "loss_factor": "tanδ tan(δ)",
    "creep_compliance": "J J(t)",
}

_BESIDE_A_NAME = frozenset({("D", "shear_rate")})
"""A letter that says too little alone, and counts beside the name of its quantity: `Schergeschwindigkeit D`."""

MISSING_WORDS = frozenset(
    {
        "", "n/a", "na", "n.a.", "#n/a", "nan", "null", "none", "nil", "missing", "no value", "invalid", "not measured",
        "inf", "+inf", "-inf", "infinity", "∞", "overflow", "out of range", "fehlt", "kein wert", "ungültig",
        "not available", "no data", "error", "overload", "fehler", "keine angabe", "nicht gemessen", "überlauf", "n.v.", "k.a.",
    }
)  # fmt: skip
"""Cells (in small letters) that hold no number; a cell of nothing but dashes, asterisks or points is one too.

An infinite viscosity at a rate of zero is no number either.
"""


_ROLES = {
    "point number": "point, point number, point no, no, nr, number, index, #, data point, punkt, punktnummer, punkt nr, messpunkt, "
    "messpunkt nr, lfd nr",
    "remarks": "status, state, remark, remarks, comment, comments, note, notes, flag, flags, quality, message, zustand, bemerkung, "
    "bemerkungen, kommentar, hinweis, meldung, anmerkung",
    "date": "date, datum",
}

_ANNOUNCED = re.compile(
    r"(?:step|segment|interval|phase|section|block|part|abschnitt|schritt|intervall|teil)\s*(?:number|no\.?|nr\.?|nummer|#)?\s*"
    r"[:=#,;|\s-]?\s*(?P<number>\d{1,4})\b(?P<rest>.*)"
    r"|(?P<ordinal>\d{1,4})\.\s*(?:step|segment|interval|phase|abschnitt|schritt|intervall)\b.*",
    re.IGNORECASE,
)
_ORNAMENT = " \t-=*#<>[](){}_~/:;|,"


def fold(text: str) -> str:
    """Return a word as it is compared: small letters, single spaces, no hyphens, underscores or points."""
    folded = unicodedata.normalize("NFKC", text).casefold()
    return " ".join(folded.replace("_", " ").replace("-", " ").replace(".", " ").split())


def _plain_symbol(text: str) -> str:
    # NFKC turns a double prime into two primes and a subscript letter into the letter.
    plain = unicodedata.normalize("NFKC", text).replace('"', "''").replace("′", "'").replace("’", "'")
    return "".join(plain.split())


_STEPS_WRITTEN = (
    "ramp rampe up down upward downward upwards downwards hold holding plateau rest resting recovery rebuild rebuilding loop flow sweep "
    "preshear shearing conditioning relaxation creep oscillation equilibration aufwärts abwärts aufwärtsrampe abwärtsrampe halten "
    "haltezeit haltephase ruhe ruhen ruhezeit ruhephase erholung vorscherung vorscheren kriechen entlastung hinlauf rücklauf"
)
_BESIDE_WRITTEN = (
    "curve phase step to from at of and the in with shear stress rate temperature amplitude frequency strain controlled constant "
    "linear logarithmic log first second third pre high low structural bei von bis auf mit der die und scherrate schubspannung "
    "temperatur konstant logarithmisch s min pa 1/s s⁻¹ °c k hz rpm %"
)
_OF_STEPS = frozenset(map(fold, _STEPS_WRITTEN.split()))
"""Words of which one at least stands in a line that names a step by nothing but words."""
_BESIDE_STEPS = frozenset(map(fold, _BESIDE_WRITTEN.split()))
"""Words and units that may stand beside them."""
_LEVELS_OF_SHEAR = re.compile(r"\b(?:high|low|hohe|niedrige) (?:shear|scherung|scherrate)\b")

_BY_WORD = {fold(word): name for name, words in _WORDS.items() for word in words.split(",")}
_BY_SYMBOL = {_plain_symbol(symbol): name for name, symbols in _SYMBOLS.items() for symbol in symbols.split()}
_BY_ROLE = {fold(word): role for role, words in _ROLES.items() for word in words.split(",")}


def _word_or_symbol(text: str) -> str | None:
    return _BY_SYMBOL.get(_plain_symbol(text)) or _BY_WORD.get(fold(text))


def meaning_of(text: str) -> str | None:
    """Return the quantity (or `step`) that a name, a symbol, or a name with its symbol (`Shear stress τ`) means, or None.

    The symbol may be spelt (`Shear stress tau`), and stand before or behind the name.
    """
    found = _word_or_symbol(text)
    if found is not None or " " not in text:
        return found
    words = text.split(" ")
    for at in {1, 2, len(words) - 2, len(words) - 1} & set(range(1, len(words))):
        first, second = " ".join(words[:at]).strip("(),:;"), " ".join(words[at:]).strip("(),:;")
        for name, symbol in ((first, second), (second, first)):
            named = _word_or_symbol(name)
            if named is not None and (_word_or_symbol(symbol) == named or (symbol, named) in _BESIDE_A_NAME):
                return named
    return None


def role_of(text: str) -> str:
    """Return what a column that holds no quantity is for: `point number`, `remarks`, `date`, or nothing when it is not known."""
    return _BY_ROLE.get(fold(text), "")


def announces_step(text: str) -> str | None:
    """Return what a line such as `Step 2` or `--- Abschnitt 3: Rampe ---` announces, without ornaments, or None."""
    plain = " ".join(text.split()).strip(_ORNAMENT)
    return plain if len(plain) <= 200 and _ANNOUNCED.fullmatch(plain) else None


def names_step(text: str) -> str | None:
    """Return what a line of nothing but the words of steps names, such as `[Ramp down]` or `Rest, 60 s`, without ornaments, or None."""
    plain = " ".join(text.split()).strip(_ORNAMENT)
    if not plain or len(plain) > 80:
        return None
    folded = _LEVELS_OF_SHEAR.sub("hold", fold(plain))
    words = [word for word in (part.strip(_ORNAMENT) for part in folded.split(" ")) if word]
    others = [word for word in words if word not in _OF_STEPS]
    if len(others) == len(words) or not all(word in _BESIDE_STEPS or word[0].isdigit() for word in others):
        return None
    return plain
