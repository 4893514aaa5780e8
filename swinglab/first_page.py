"""Extension of JupyterLab's server: it sends a notebook page the figure of stored results, while these are valid.

The command `notebooks` draws the figure from results that it has checked. At each request, the server checks whether
the study's files have changed since then. After a change no figure is sent, and the page waits for the new one.
"""

from __future__ import annotations

import asyncio
import os
from pathlib import Path
from typing import Any

from jupyter_server.base.handlers import JupyterHandler
from jupyter_server.utils import url_path_join
from tornado import web

from swinglab.page_state import VARIABLE, first_page_now

#: Longest time that a request waits for the figure, which is drawn while the server starts; interval between checks.
LONGEST_WAIT_S, STEP_S = 3.0, 0.05


class FirstPage(JupyterHandler):
    """Request handler that returns the stored figure of a notebook page as JSON, ``{"html": ...}``.

    The value of html is empty if no figure is stored, or if the study's files have changed since it was drawn.
    """

    @web.authenticated
    async def get(self) -> None:
        """Send the figure as soon as it is drawn; without one after LONGEST_WAIT_S, send an empty text."""
        path = Path(os.environ.get(VARIABLE, "no first page"))
        for _ in range(round(LONGEST_WAIT_S / STEP_S)):
            if path.is_file():
                break
            await asyncio.sleep(STEP_S)
        self.finish({"html": first_page_now(path)})


def _jupyter_server_extension_points() -> list[dict[str, str]]:
    return [{"module": "swinglab.first_page"}]


def _load_jupyter_server_extension(server: Any) -> None:
    address = url_path_join(server.web_app.settings["base_url"], "swinglab", "first")
    server.web_app.add_handlers(".*$", [(address, FirstPage)])
