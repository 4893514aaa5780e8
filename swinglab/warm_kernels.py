"""Jupyter kernels that import swinglab in advance, so that a notebook's first figure appears sooner.

JupyterLab's server imports this module (see `lab.lab_command`); it loads nothing else of swinglab.
"""

from __future__ import annotations

import asyncio
import os
from typing import Any

from jupyter_client.session import Session
from jupyter_server.services.kernels.kernelmanager import AsyncMappingKernelManager
from tornado.ioloop import IOLoop

#: Code that a prepared kernel runs: it imports what the kit's notebooks need first, and defines no variable.
LOAD = "__import__('swinglab.controls.preparing', fromlist=['prepare']).prepare()"
#: Time from the assignment of a kernel to the preparation of the next one, which would otherwise slow down the first
#: notebook; longest time that a kernel may take to start.
PAUSE_S, LONGEST_START_S = 15.0, 60.0


class WarmKernelManager(AsyncMappingKernelManager):
    """Jupyter kernel manager that starts one kernel in advance and assigns it to the first notebook that is opened.

    The notebook must be in the server's own folder. The next kernel is prepared `PAUSE_S` seconds later.
    """

    def __init__(self, **settings: Any) -> None:
        super().__init__(**settings)
        self._warm: str | None = None
        IOLoop.current().add_callback(self._prepare)

    async def _async_start_kernel(
        self, *, kernel_id: str | None = None, path: Any = None, **asked: Any
    ) -> str:
        """Return the kernel identifier for a session: the prepared kernel if it fits the request, else a new one."""
        warm, own = self._warm, self.default_kernel_name
        if (
            kernel_id is None
            and warm is not None
            and warm in self
            and asked.get("kernel_name") in (None, own)
            and self._is_here(path)
        ):
            self._warm = None
            IOLoop.current().call_later(PAUSE_S, self._prepare)
            return str(warm)
        return str(await super()._async_start_kernel(kernel_id=kernel_id, path=path, **asked))

    start_kernel = _async_start_kernel  # type: ignore[assignment]

    def _is_here(self, path: Any) -> bool:
        """Return whether a kernel for a session at this path runs in the server's own folder."""
        return path is None or os.path.realpath(self.cwd_for_path(path)) == os.path.realpath(self.root_dir)

    async def _prepare(self) -> None:
        """Start a kernel and let it import swinglab; it may be assigned to a notebook before this is complete."""
        try:
            here: Any = ""  # the server's own folder, in which the notebooks lie
            self._warm = await super()._async_start_kernel(path=here)
            assert self._warm is not None
            kernel = self.get_kernel(self._warm)
            # A separate session: two connections with the same identity, the page's and this one, would conflict.
            client: Any = kernel.client(session=Session(key=kernel.session.key))
            client.start_channels()
            await client.wait_for_ready(timeout=LONGEST_START_S)
            client.execute(LOAD, silent=True, store_history=False)
            await asyncio.sleep(1.0)  # the request is on its way
            client.stop_channels()
        except Exception:  # a notebook then starts a new kernel, as it would without this class
            self.log.warning("swinglab: no kernel was prepared", exc_info=True)
