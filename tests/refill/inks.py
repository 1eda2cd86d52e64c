"""An ink by closed laws, and refills that differ from the demo one in named figures."""

from __future__ import annotations

from rheokit.base.estimate import Estimate
from rheokit.models import MODELS
from rheokit.refill.description import read_refill
from rheokit.refill.duct import Flowing
from rheokit.refill.ink import InkInPen


def estimate(name, value, error):
    return Estimate(
        name=name, value=value, unit="Pa", standard_error=error, degrees_of_freedom=20.0, components={"fit": error}, method="test"
    )


HERSCHEL_BULKLEY = Flowing(MODELS["herschel_bulkley"], {"yield_stress": 200.0, "consistency": 100.0, "flow_index": 0.4})
CASSON = Flowing(MODELS["casson"], {"casson_yield_stress": 150.0, "casson_viscosity": 1.2})
INK = InkInPen(
    dynamic_yield_stress=estimate("dynamic_yield_stress", 200.0, 5.0),
    static_yield_stress=estimate("static_yield_stress", 320.0, 20.0),
    laws={"herschel_bulkley": HERSCHEL_BULKLEY, "casson": CASSON},
    bench_range=(0.1, 500.0),
    reference_temperature=293.15,
    yield_decay=(1.0 / 60.0, 0.002),
    viscous_energy=(50e3, 3e3),
)


def exact(tmp_path, demo_text, *changes):
    for old, new in changes:
        assert old in demo_text
        demo_text = demo_text.replace(old, new, 1)
    path = tmp_path / "exact.toml"
    path.write_text(demo_text, encoding="utf-8")
    return read_refill(path)
