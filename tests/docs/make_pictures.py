"""Make the pictures of start_here.md, pen_sheet.md and instrument_file.md in docs/ again from the invented samples.

`python tests/docs/make_pictures.py`

The page of the record needs the program pdftoppm, that of the notebook what tests/notebooks/in_jupyterlab.py needs.
"""

import subprocess
import sys
import tempfile
from pathlib import Path

import matplotlib.pyplot as plt
from PIL import Image

import rheokit as rk
from rheokit.reports.pdf import pdf

TOP = Path(__file__).resolve().parents[2]
PICTURES = TOP / "docs" / "pictures"
SAMPLES = TOP / "sample_rheometer_runs"


def save(source: Path, name: str) -> None:
    """Keep a picture in 64 colours, which drawings do not miss."""
    with Image.open(source) as held:
        held.convert("RGB").quantize(64).save(PICTURES / name, optimize=True)


def draw_pen_sheet(path: Path) -> None:
    """Draw the four figures of a pen sheet."""
    refill, ink = rk.read_refill(SAMPLES / "refill.toml"), rk.ink_in_pen(rk.read_batch(SAMPLES / "B26-041"))
    figure, axes = plt.subplots(2, 2, figsize=(11.0, 8.4), layout="constrained")
    for place, draw in zip(axes.flat, (rk.holding_index, rk.viscosity_over_decades, rk.feeding, rk.yield_window), strict=True):
        draw(refill, ink).plot(place)
    figure.savefig(path, dpi=90)


def main() -> None:
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        held = Path(folder)
        fit = rk.fit_flow_curve(rk.read_run(SAMPLES / "B26-041" / "steady_load1.csv").step("steady"), "herschel_bulkley")
        fit.plot().figure.savefig(held / "flow_curve.png", dpi=100)
        ramp = rk.read_run(SAMPLES / "B26-041" / "loop_load1.csv")
        rk.hysteresis_loop(ramp.step("up"), ramp.step("down")).plot().figure.savefig(held / "loop.png", dpi=100)
        results = [result for path in sorted(SAMPLES.glob("B26-*")) for result in rk.read_batch(path).entered]
        rk.oil_chart(results, rk.read_instrument(SAMPLES / "instrument.toml")).plot().figure.savefig(held / "check_oil.png", dpi=100)
        draw_pen_sheet(held / "pen_sheet.png")
        check = rk.check_batch(rk.read_batch(SAMPLES / "B26-046"), rk.read_specification(SAMPLES / "specification.toml"))
        (held / "record.pdf").write_bytes(pdf(check.record.document))
        subprocess.run(["pdftoppm", "-png", "-r", "80", "-singlefile", str(held / "record.pdf"), str(held / "record")], check=True)
        subprocess.run([sys.executable, str(TOP / "tests" / "notebooks" / "in_jupyterlab.py"), "--pictures", folder], check=True)
        (held / "fit_a_new_batch.png").rename(held / "notebook.png")
        for name in ("flow_curve.png", "loop.png", "record.png", "notebook.png", "pen_sheet.png", "check_oil.png"):
            save(held / name, name)


if __name__ == "__main__":
    main()
