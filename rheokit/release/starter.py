"""A commented specification to start from."""

from __future__ import annotations

from rheokit.characteristics import CHARACTERISTICS
from rheokit.release.asked import sample_condition

__all__ = ["starter_text"]

_OPENING = """\
# A release specification to start from. Every number in it is invented: replace them by your own.
# A line that begins with '#' is a comment; take the '#' away to use what stands behind it.
format = 1

[specification]
product = "name of the product"         # as batch.toml and the exports name it
revision = "A"
# effective = 2026-09-01                # day from which this revision is in force
# supersedes = "0"                      # revision that it takes the place of
# precision = "precision.toml"          # the laboratory's own precision, in a file beside this one; see repeatability below
# instrument = "instrument.toml"        # geometry with its uncertainty, check oils, calibration; `rheokit instrument --starter`
# age = "1 d to 7 d"                    # age of a batch at which the limits apply; may stand in a requirement instead

# How knowledge becomes an outcome. One of the three:
decision_rule = { kind = "probability", conforming = 0.95 }     # probability of conformity, from JCGM 106
# decision_rule = { kind = "guard", factor = 1.0 }              # limits drawn in by factor times U (half the 95 % interval)
# decision_rule = { kind = "simple" }                           # the value alone; up to 50 % risk at a limit

# How a value is compared with a limit (ASTM E29): as it is, or rounded half to even to the last place of the limit first.
rounding = { method = "absolute" }
# rounding = { method = "rounding" }

# A known oil, read before the runs and written into results.csv as check_oil_viscosity. Without a reading that stands, nothing counts.
# [check_oil]
# certified = "1.020 Pa·s"
# tolerance = "2 %"
# valid_for = "7 d"
# expires = 2027-06-30

# What the runs of a test must have been. Leave out what does not matter; what is asked for and not followed is no measurement.
[method.loop]
geometry = "cone-plate"
temperature = "23.0 °C ± 0.2"
pre_shear = "100 1/s for 60 s"
rest = "300 s"                          # without rest and ramp a loop area is not comparable
ramp = "0 to 100 1/s in 120 s"
# hold = "100 1/s for 30 s"
# gap = "500 µm ± 5"
# points = 20                           # least points of a leg or sweep
# time_since_loading = "5 min to 30 min"
# correction = "local"                  # parallel plates: true stress at the rim; or "global", "single point", "none"
loads = 2                               # fewer loads: no measurement

# [retest]                              # without it a second look at a batch is refused
# fresh_loads = 2                       # what one retest after a hold brings; every result counts, the mean of all loads is judged
# retests = 2
# false_accept = "11 %"                 # at a limit, by the whole rule: simulated, and held against this

# One [[requirement]] for each line of the specification. 'repeatability' is the standard deviation between loads of the reported
# number, with the degrees of freedom to which it is known: without it nothing is ever released. 'day', 'calibration', 'geometry' and
# 'temperature' are further parts of the uncertainty, which more loads do not make smaller.
[[requirement]]
id = "viscosity-100"
characteristic = "viscosity_at_rate"
test = "loop"
step = "down"
at = { shear_rate = "100 1/s" }
lower = "3.4 Pa·s"                      # one of the two limits may be left out
upper = "4.2 Pa·s"
repeatability = { relative = 0.02, degrees_of_freedom = 24 }
# repeatability = "from precision file"
# day = { relative = 0.01, degrees_of_freedom = 12 }
# calibration = { absolute = "0.02 Pa·s" }
# temperature_coefficient = "-7 %/K ± 1"                        # corrects to the temperature of the method; ± one standard uncertainty
# process = { standard_deviation = "0.1 Pa·s" }                 # how the batches scatter; decides nothing

"""


def starter_text() -> str:
    """Return a specification that reads back as it is printed, with a comment on every key and every characteristic."""
    return _OPENING + "# The characteristics, and what each of them needs:\n" + "".join(_line(name) for name in CHARACTERISTICS)


def _line(name: str) -> str:
    entry = CHARACTERISTICS[name]
    keys = {"step": "test, step", "loop": "test", "entered": "typed in: no test, no step"}[entry.needs]
    at = ", ".join(sample_condition(condition, rule) for condition, rule in entry.at.items())
    return f"#   {name}: {entry.meaning} ({keys}{f'; at = {{ {at} }}' if at else ''})\n"
