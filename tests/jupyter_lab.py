"""JupyterLab as the notebooks command starts it, with settings of its own and nothing left behind."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

#: Presses of Tab after which a control counts as out of reach.
MOST_TABS = 60
ROOT = Path(__file__).resolve().parents[1]
#: Cells of the notebook in front that failed, once all have run and the kernel is idle; false until then.
HAS_RUN = """() => {
  const panel = window.jupyterapp && window.jupyterapp.shell.currentWidget;
  const kernel = panel && panel.context && panel.context.isReady && panel.sessionContext.session
    && panel.sessionContext.session.kernel;
  if (!kernel || kernel.status !== 'idle') return false;
  const cells = [...panel.context.model.cells].filter(cell => cell.type === 'code');
  if (cells.length === 0 || cells.some(cell => cell.executionCount === null)) return false;
  const hasFailed = cell => cell.outputs.toJSON().some(output => output.output_type === 'error');
  return {failed: cells.filter(hasFailed).length};
}"""


#: What JupyterLab shows in place of a widget whose messages did not all arrive.
LOST_WIDGET = ".jp-OutputArea svg[viewBox='0 0 48 48']"
#: What the notebook in front is doing, for the message of a test that waited in vain.
STATE = """() => {
  const panel = window.jupyterapp && window.jupyterapp.shell.currentWidget;
  if (!panel || !panel.context) return {panel: 'none', text: document.body.innerText.slice(0, 500)};
  const kernel = panel.sessionContext.session && panel.sessionContext.session.kernel;
  return {
    ready: panel.context.isReady, kernel: kernel && [kernel.status, kernel.connectionStatus],
    cells: [...panel.context.model.cells].filter(cell => cell.type === 'code').map(cell => [cell.executionCount,
      cell.outputs.toJSON().map(output => output.ename || Object.keys(output.data || {}).join(' '))]),
    dialog: [...document.querySelectorAll('.jp-Dialog')].map(dialog => dialog.innerText),
    text: panel.node.innerText.slice(0, 500),
  };
}"""


class Lab:
    """A running server. `address` opens a notebook; `stop` ends the server and its kernels."""

    def __init__(self, study: Path, home: Path, *, page: str = "") -> None:
        self.home = home
        self.study = study
        environment = os.environ | {
            "PYTHONPATH": str(ROOT), "SWINGLAB_NO_VENV": "1", "OPENBLAS_NUM_THREADS": "1",
            "JUPYTER_CONFIG_DIR": str(home / "config"), "JUPYTER_RUNTIME_DIR": str(home / "runtime"),
            "JUPYTER_DATA_DIR": str(home / "data"), "JUPYTERLAB_WORKSPACES_DIR": str(home / "workspaces"),
            "IPYTHONDIR": str(home / "ipython"),
        }  # fmt: skip
        (home / "config").mkdir(parents=True)
        # The tests drive the page through the application object, which is not exposed otherwise.
        config = {"LabApp": {"expose_app_in_browser": True}}
        (home / "config" / "jupyter_server_config.json").write_text(json.dumps(config), encoding="utf-8")
        (home / "config" / "jupyter_lab_config.json").write_text(json.dumps(config), encoding="utf-8")
        self._log = (home / "server.log").open("w", encoding="utf-8")
        more = ["--page", page] if page else []
        self.process = subprocess.Popen(
            [sys.executable, "-m", "swinglab", "notebooks", str(study), "--no-browser", *more],
            cwd=home, env=environment, stdout=self._log, stderr=self._log, start_new_session=True,
        )  # fmt: skip
        self._server = self._wait()

    def _wait(self) -> dict:
        deadline = time.monotonic() + 120
        while time.monotonic() < deadline:
            for path in (self.home / "runtime").glob("jpserver-*.json"):
                try:
                    server = json.loads(path.read_text(encoding="utf-8"))
                    with urllib.request.urlopen(f"{server['url']}api?token={server['token']}", timeout=5):
                        return server
                except (OSError, ValueError):
                    pass  # not up yet
            if self.process.poll() is not None:
                break
            time.sleep(0.2)
        self.stop()
        raise RuntimeError(
            f"JupyterLab did not start: {(self.home / 'server.log').read_text(encoding='utf-8')}"
        )

    def address(self, notebook: str, *, way: str = "lab") -> str:
        """Address of a notebook: in the whole application (lab) or as a single page (doc)."""
        return f"{self._server['url']}{way}/tree/{notebook}?token={self._server['token']}&reset"

    def stop(self) -> None:
        """End the server's own process group: the server and its kernels."""
        if self.process.poll() is None:
            os.killpg(self.process.pid, signal.SIGTERM)
            try:
                self.process.wait(timeout=20)
            except subprocess.TimeoutExpired:
                os.killpg(self.process.pid, signal.SIGKILL)
                self.process.wait()
        self._log.close()


def open_and_wait(page, lab: Lab, notebook: str, *, way: str = "lab", wait_for: str) -> float:
    """Open one of the kit's notebooks, which runs by itself; seconds until something matches `wait_for`.

    Returns once every cell has run; no cell may fail.
    """
    from playwright.sync_api import TimeoutError as Waited

    lines: list[str] = []
    page.on("console", lambda line: lines.append(f"{line.type}: {line.text[:300]}"))
    started = time.monotonic()
    page.goto(lab.address(notebook, way=way))
    for attempt in range(2):
        try:
            page.wait_for_selector(wait_for, timeout=60_000)
            seconds = time.monotonic() - started
            failed = page.wait_for_function(HAS_RUN, timeout=90_000).json_value()["failed"]
        except Waited as error:
            if attempt:
                state = page.evaluate(STATE)
                raise AssertionError(f"{notebook}: no {wait_for}. {state}\nconsole: {lines[-20:]}") from error
        else:
            assert failed == 0, f"{failed} cells failed"
            if page.locator(LOST_WIDGET).count() == 0:
                return seconds
        # Jupyter loses a message now and then, and a widget with it: the page is loaded again, as a reader would.
        print(f"{notebook} is loaded again: {page.evaluate(STATE)}")
        page.reload()
    raise AssertionError(f"{notebook}: a widget is not there after a reload. console: {lines[-20:]}")


def chooser(page, label: str):
    """The list with this label (the first, where several have it)."""
    return page.locator(f".widget-dropdown:has(label:text-is('{label}')) select").first


def no_fault(page) -> None:
    """No cell and no panel shows an error."""
    assert page.locator(".jp-RenderedText[data-mime-type*='stderr'], .jp-OutputArea-error").count() == 0
    assert page.locator("text=Traceback").count() == 0


def focused(page) -> str:
    """Label of the list, or words on the button, that has the focus."""
    return page.evaluate("""() => { const e = document.activeElement;
        return e.tagName === 'BUTTON' ? e.innerText
            : e.closest('.jupyter-widgets')?.querySelector('label')?.innerText ?? e.tagName; }""")


def tab_to(page, what: str) -> None:
    """Press Tab until the focus is on the list of this label, or on the button of this name."""
    for _ in range(MOST_TABS):
        if focused(page) == what:
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"{MOST_TABS} tabs did not reach {what}: the focus is on {focused(page)}")
