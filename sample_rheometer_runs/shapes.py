"""The shapes in which the invented exports come: one a folder, as if each came from another instrument or another hand."""

from dataclasses import replace

from rheokit.virtual import CLOCK, HEADER_UNITS, UNITS_ROW, Column, Shape

MINUS = "\N{MINUS SIGN}"
ENGLISH = {column.quantity: column for column in (*HEADER_UNITS.columns, *UNITS_ROW.columns)}


def columns(*wanted: str, **units: str) -> tuple[Column, ...]:
    """Return columns by quantity with their English headings, in other units where one is given."""
    known = {"point": "Point", "status": "Status", "remark": "Remark"}
    found = [ENGLISH[name] if name in ENGLISH else Column(quantity=name, heading=known[name]) for name in wanted]
    return tuple(replace(column, unit=units.get(column.quantity, column.unit)) for column in found)


def named(words: dict[str, tuple[str, str]]) -> tuple[Column, ...]:
    """Return columns by quantity, each with its heading and unit."""
    return tuple(Column(quantity=name, heading=heading, unit=unit) for name, (heading, unit) in words.items())


PLAIN = HEADER_UNITS

TAB_UTF16_BLOCKS = Shape(
    name="UTF-16, tabs, announced blocks",
    suffix=".txt",
    encoding="utf-16",
    delimiter="\t",
    line_end="\r\n",
    units="own row",
    columns=columns("point", "time", "step_time", "shear_rate", "shear_stress", "viscosity", "torque", "temperature"),
    steps="blocks",
    announcement="Step {number}",
)

SEMICOLON_DECIMAL_COMMA = replace(
    HEADER_UNITS,
    name="UTF-8 with byte order mark, semicolons, decimal commas",
    encoding="utf-8-sig",
    delimiter=";",
    decimal=",",
    line_end="\r\n",
)

GERMAN = Shape(
    name="German words, cp1252, semicolons, decimal commas, points between thousands",
    encoding="cp1252",
    delimiter=";",
    decimal=",",
    thousands=".",
    line_end="\r\n",
    units="in header",
    heading="{heading} in {unit}",
    columns=named(
        {
            "step": ("Abschnitt", ""),
            "time": ("Zeit", "s"),
            "shear_rate": ("Scherrate", "1/s"),
            "shear_stress": ("Schubspannung", "Pa"),
            "viscosity": ("Viskosität", "mPa·s"),
            "torque": ("Drehmoment", "µN·m"),
            "temperature": ("Temperatur", "°C"),
        }
    ),
)

TAB_SHUFFLED = Shape(
    name="tabs, columns in another order, status and remarks",
    suffix=".tsv",
    delimiter="\t",
    units="in header",
    heading="{heading} ({unit})",
    columns=columns("viscosity", "status", "temperature", "shear_stress", "time", "step", "torque", "shear_rate", "remark"),
    missing="n/a",
    minus=MINUS,
)

BLANKS = Shape(
    name="runs of blanks, symbols, comment marks",
    suffix=".dat",
    delimiter=" ",
    units="in header",
    heading="{heading}/{unit}",
    columns=named(
        {"step": ("Step", ""), "time": ("t", "s"), "shear_rate": ("γ̇", "s⁻¹"), "shear_stress": ("τ", "Pa"), "viscosity": ("η", "Pas"),
         "torque": ("M", "mNm"), "temperature": ("T", "°C")}
    ),
    preamble="{key}: {value}",
    comment="# ",
    missing="nan",
)  # fmt: skip

BAR_THOUSANDS = Shape(
    name="bars, commas between thousands, notes below",
    suffix=".txt",
    delimiter="|",
    thousands=",",
    units="own row",
    columns=columns("point", "step", "time", "shear_rate", "shear_stress", "viscosity", "status", "temperature", viscosity="mPa·s"),
    notes=("End of the run", "Written by the seeded virtual rheometer"),
)

SHEETS = Shape(
    name="workbook, one sheet a step",
    container="xlsx",
    suffix=".xlsx",
    units="own row",
    columns=columns("time", "step_time", "shear_rate", "shear_stress", "viscosity", "angular_velocity", "torque", "temperature"),
    steps="sheets",
)

TORQUE_AND_SPEED = Shape(
    name="torque and speed only, the geometry in the preamble",
    units="in header",
    columns=(
        *columns("step", "time"),
        Column(quantity="angular_velocity", heading="Speed", unit="1/min"),
        *columns("torque", "temperature", torque="mN·m"),
    ),
    preamble="{key}: {value}",
)

RESTARTS = Shape(
    name="no step column: the time starts again",
    units="in header",
    columns=(
        Column(quantity="step_time", heading="Time", unit="s"),
        *columns("shear_rate", "shear_stress", "viscosity", "temperature", viscosity="Pa·s"),
    ),
)

"""Only for runs in which every step begins earlier in its own time than the step before it ended, as in the recovery test."""

MIXED_UNITS = replace(
    PLAIN,
    name="viscosity in mPa·s under a Pa·s heading",
    columns=tuple(replace(column, written_in="mPa·s") if column.quantity == "viscosity" else column for column in PLAIN.columns),
)

ONE_SHEET = replace(
    UNITS_ROW,
    name="workbook, all on one sheet, title rows, an empty row and column",
    container="xlsx",
    suffix=".xlsx",
    margin=1,
)

OPEN_SHEETS = replace(SHEETS, name="OpenDocument workbook, one sheet a step", container="ods", suffix=".ods")

CLOCK_TIMES = Shape(
    name="clock times, semicolons, blocks with the header again",
    delimiter=";",
    units="in header",
    columns=columns("time", "shear_rate", "shear_stress", "viscosity", "torque", "temperature", time=CLOCK),
    steps="blocks",
    missing="---",
)

NO_SUFFIX = replace(HEADER_UNITS, name="a file name without suffix", suffix="")

BARE = Shape(
    name="no preamble, symbols, UTF-16",
    suffix=".txt",
    encoding="utf-16",
    delimiter=";",
    units="own row",
    columns=named(
        {"step": ("Step", ""), "time": ("t", "min"), "shear_rate": ("γ̇", "1/s"), "shear_stress": ("τ", "Pa"), "viscosity": ("η", "mPa·s"),
         "angular_velocity": ("Ω", "rad/s"), "temperature": ("T", "K")}
    ),
)  # fmt: skip

BLANK_LINES = Shape(
    name="blocks under one header, parted by empty lines",
    suffix=".tsv",
    delimiter="\t",
    units="in header",
    heading="{heading}, {unit}",
    columns=columns("time", "shear_rate", "shear_stress", "viscosity", "temperature", viscosity="mPa·s"),
    steps="blocks",
    header_repeated=False,
    notes=("End of the run",),
)

OPEN_SHEET = replace(ONE_SHEET, name="OpenDocument workbook, all on one sheet", container="ods", suffix=".ods")
