"""Open every notebook in a real JupyterLab in headless Chromium, run all of its cells and take its picture.

    python tests/notebooks/in_jupyterlab.py --pictures some_folder

Needs the extra `browser` and a program `chromium`; without that one it says so and is content. The server is a local one with a
token, a home and a browser profile of its own, all thrown away. It works on a copy: the notebooks stay as they are.
"""

from __future__ import annotations

import argparse
import base64
import contextlib
import json
import os
import secrets
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import websocket

TOP = Path(__file__).resolve().parents[2]
BROWSERS = ("chromium", "chromium-browser")
FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage", "--hide-scrollbars", "--remote-allow-origins=*",
)  # fmt: skip
PATIENCE = 120.0
"""Longest wait [s] for a page to open or a notebook to run; both take seconds on an idle machine."""
WIDTH, HEIGHT = 1280, 900
NEWS = "@jupyterlab/apputils-extension:announcements"

PANEL = "[...window.jupyterapp.shell.widgets('main')].find(widget => widget.context?.path.endsWith('.ipynb'))"
READY = f"{PANEL}.sessionContext.session?.kernel?.connectionStatus === 'connected'"
RUN_ALL = f"window.jupyterapp.shell.activateById({PANEL}.id); window.jupyterapp.commands.execute('notebook:run-all-cells'); true"
TO_THE_TOP = f"{PANEL}.content.activeCellIndex = 0; {PANEL}.content.node.querySelector('.jp-WindowedPanel-outer').scrollTop = 0; true"
STATE = """(() => {
  const panel = PANEL;
  const cells = [...panel.content.model.cells].map(cell => cell.toJSON()).filter(cell => cell.cell_type === 'code');
  const outputs = cells.flatMap(cell => cell.outputs);
  return {
    cells: cells.length,
    run: cells.filter(cell => cell.execution_count !== null).length,
    errors: outputs.filter(one => one.output_type === 'error' || one.name === 'stderr').map(one => one.evalue || one.ename || one.text),
    idle: panel.sessionContext.session?.kernel?.status === 'idle',
  };
})()""".replace("PANEL", PANEL)


class Page:
    """One page of the browser, spoken to by the DevTools protocol."""

    def __init__(self, port: int) -> None:
        pages = _wait(lambda: _json(f"http://127.0.0.1:{port}/json/list"), "the browser")
        address = next(page["webSocketDebuggerUrl"] for page in pages if page["type"] == "page")
        self._socket = websocket.create_connection(address, timeout=PATIENCE, enable_multithread=False)
        self._number = 0

    def ask(self, method: str, **parameters: object) -> dict:
        self._number += 1
        self._socket.send(json.dumps({"id": self._number, "method": method, "params": parameters}))
        while True:
            said = json.loads(self._socket.recv())
            if said.get("id") == self._number:
                if "error" in said:
                    raise RuntimeError(f"{method}: {said['error']['message']}")
                return said["result"]

    def value(self, expression: str) -> object:
        said = self.ask("Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True)
        if "exceptionDetails" in said:
            raise RuntimeError(said["exceptionDetails"].get("exception", {}).get("description", "the page raised an error"))
        return said["result"].get("value")

    def picture(self, path: Path, height: int) -> None:
        self.size(height)
        time.sleep(2.0)
        path.write_bytes(base64.b64decode(self.ask("Page.captureScreenshot", format="png")["data"]))

    def size(self, height: int) -> None:
        self.ask("Emulation.setDeviceMetricsOverride", width=WIDTH, height=height, deviceScaleFactor=1, mobile=False)


def _json(address: str) -> object:
    with urllib.request.urlopen(address, timeout=5) as answer:
        return json.load(answer)


def _wait(look: Callable[[], object], what: str) -> object:
    """Return what a look gives once it gives something."""
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        with contextlib.suppress(urllib.error.URLError, ConnectionError, RuntimeError, StopIteration):
            if found := look():
                return found
        time.sleep(0.3)
    raise TimeoutError(f"{what} was not there within {PATIENCE:g} s")


def _free_port() -> int:
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        return int(held.getsockname()[1])


@contextlib.contextmanager
def _running(command: list[str], environment: dict[str, str], log: Path) -> Iterator[None]:
    """Hold a program and what it starts running for a while; what it says goes to a file."""
    with log.open("wb") as said, subprocess.Popen(command, env=environment, stdout=said, stderr=subprocess.STDOUT) as process:
        try:
            yield
        finally:
            process.terminate()
            try:
                process.wait(15)
            except subprocess.TimeoutExpired:
                process.kill()


def _try(page: Page, address: str, name: str, pictures: Path | None) -> str:
    """Open one notebook, run it and return what is wrong with it, or nothing."""
    page.size(HEIGHT)
    page.ask("Page.navigate", url=address)
    _wait(lambda: page.value(READY), f"{name} with its kernel")
    page.value(RUN_ALL)

    def done() -> dict | None:
        state = page.value(STATE)
        return state if state["errors"] or (state["idle"] and state["run"] == state["cells"]) else None

    state = _wait(done, f"the end of {name}")
    if pictures is not None:
        for ending, height in (("", HEIGHT), ("-whole", 4000)):
            page.size(height)
            page.value(TO_THE_TOP)
            page.picture(pictures / f"{name}{ending}.png", height)
    return "; ".join(str(error) for error in state["errors"])


def main() -> int:
    parser = argparse.ArgumentParser(description="Run every notebook in a real JupyterLab in headless Chromium.")
    parser.add_argument("--pictures", type=Path, help="folder to put pictures of them into")
    arguments = parser.parse_args()
    browser = next((found for name in BROWSERS if (found := shutil.which(name))), None)
    if browser is None:
        print("no Chromium here, not run")
        return 0
    if arguments.pictures is not None:
        arguments.pictures.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as held:
        return _run(browser, Path(held), arguments.pictures)


def _not_run(notebook: dict) -> dict:
    """Return a notebook as if never run, so that what is seen afterwards was run here."""
    shown = {"code": {"outputs": [], "execution_count": None}}
    return notebook | {"cells": [cell | shown.get(cell["cell_type"], {}) for cell in notebook["cells"]]}


def _run(browser: str, home: Path, pictures: Path | None) -> int:
    for folder in ("notebooks", "sample_rheometer_runs"):
        shutil.copytree(TOP / folder, home / "work" / folder)
    for path in (home / "work" / "notebooks").glob("*.ipynb"):
        path.write_text(json.dumps(_not_run(json.loads(path.read_text(encoding="utf-8")))), encoding="utf-8")
    (home / "jupyter" / "labconfig").mkdir(parents=True)
    (home / "jupyter" / "labconfig" / "page_config.json").write_text(json.dumps({"disabledExtensions": {NEWS: True}}), encoding="utf-8")
    token, port, devtools = secrets.token_hex(16), _free_port(), _free_port()
    environment = {**os.environ, "HOME": str(home), "XDG_CONFIG_HOME": str(home / "config"), "JUPYTER_CONFIG_DIR": str(home / "jupyter")}
    server = [
        sys.executable, "-m", "jupyterlab", "--no-browser", "--ip=127.0.0.1", f"--port={port}", "--allow-root", "--expose-app-in-browser",
        f"--IdentityProvider.token={token}", f"--ServerApp.root_dir={home / 'work'}",
    ]  # fmt: skip
    window = [browser, *FLAGS, f"--user-data-dir={home / 'profile'}", f"--remote-debugging-port={devtools}", "about:blank"]
    start, failures = time.monotonic(), 0
    with _running(server, environment, home / "server.txt"), _running(window, environment, home / "browser.txt"):
        _wait(lambda: _json(f"http://127.0.0.1:{port}/api/status?token={token}"), "JupyterLab")
        page = Page(devtools)
        names = sorted(path.stem for path in (home / "work" / "notebooks").glob("*.ipynb"))
        for name in names:
            # A workspace of its own, so that the one before does not open again beside it.
            address = f"http://127.0.0.1:{port}/lab/workspaces/{name}/tree/notebooks/{name}.ipynb?token={token}"
            wrong = _try(page, address, name, pictures)
            failures += bool(wrong)
            print(f"{name}: {wrong or 'all cells run, no error output'}", flush=True)
    print(f"JupyterLab in Chromium, {time.monotonic() - start:.0f} s")
    print(f"{len(names) - failures} passed, {failures} failed")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
