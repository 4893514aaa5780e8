"""A kernel is prepared before a notebook asks for one."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest

pytest.importorskip("jupyter_server")


async def given_away(root: Path) -> tuple[str | None, list[str], bool]:
    """The prepared kernel, those given to three notebooks (here, here, in a folder below), and whether the first has
    loaded the kit."""
    from swinglab.warm_kernels import WarmKernelManager

    manager = WarmKernelManager(root_dir=str(root))
    try:
        while manager._warm is None:
            await asyncio.sleep(0.05)
        prepared = manager._warm
        asked = {"kernel_name": None, "env": {}, "kernel_id": None}
        given = [await manager.start_kernel(path=path, **asked) for path in ("", "", "below")]
        client = manager.get_kernel(given[0]).client()
        client.start_channels()
        await client.wait_for_ready(timeout=60)
        code = "import os, sys; assert {'swinglab.controls.preparing', 'scipy.stats'} <= {*sys.modules}\n"
        code += f"assert os.path.samefile(os.getcwd(), {str(root)!r})"
        await asyncio.sleep(1.0)
        reply = await client.execute(code, reply=True, timeout=60)
        client.stop_channels()
        return prepared, given, reply["content"]["status"] == "ok"
    finally:
        await manager.shutdown_all(now=True)


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
def test_the_first_notebook_gets_the_prepared_kernel_and_others_their_own(tmp_path: Path) -> None:
    """Truth: made (real kernels, as the server starts them)."""
    (tmp_path / "below").mkdir()
    prepared, given, is_loaded = asyncio.run(asyncio.wait_for(given_away(tmp_path), 150))
    assert given[0] == prepared and len(set(given)) == 3
    assert is_loaded
