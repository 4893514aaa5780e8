"""Extension of JupyterLab's server that sends a page the figure of stored results while they are still valid.

The picture is drawn by the command `notebooks` from results that were checked when it started. The files that they come
from are compared again at each request: after any change the page waits for the live picture.
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

#: The picture is drawn while the server starts: so long a page waits for it.
LONGEST_WAIT_S, STEP_S = 3.0, 0.05


class FirstPage(JupyterHandler):
    """Request handler that returns the figure of a page as JSON, ``{"html": ...}``; empty if no figure is valid."""

    @web.authenticated
    async def get(self) -> None:
        """The picture, once it is drawn."""
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
