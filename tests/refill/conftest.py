"""The demo refill, whose figures are the scenario's own."""

from __future__ import annotations

import pytest

DEMO = """\
format = 1

[refill]
name = "slate grey, 40 series"

[tube]
radius = "2.59 mm"
ink_length = "70 mm"
ink_volume = "1.48 mL"

[gas]
volume = "1.0 mL"
pressure = "245 kPa gauge"
temperature = "20 °C"

[ink]
density = "1150 kg/m³"
expansion = "7e-4 1/K"

[[seal]]
kind = "slot"
gap = "0.05 to 0.2 µm"
length = "30 to 80 µm"
width = "2.2 mm"

[[feed]]
kind = "tube"
radius = "0.25 to 0.3 mm"
length = "2 mm"

[ball]
diameter = "0.7 mm"

[writing]
speed = "0.075 m/s"
gap = "2 to 3 µm"
line_width = "0.4 mm"
laydown = "57 mg/100 m"

[filling]
needle_radius = "0.75 mm"
needle_length = "40 mm"
time = "1 s"

[use]
coldest = "-30 °C"
hottest = "120 °C"
"""


@pytest.fixture
def demo_text():
    return DEMO


@pytest.fixture
def demo_file(tmp_path):
    path = tmp_path / "refill.toml"
    path.write_text(DEMO, encoding="utf-8")
    return path
