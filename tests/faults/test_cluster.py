"""Workers of a cluster: the same tables, another version refused, no worker and no scheduler said in words."""

from __future__ import annotations

from concurrent.futures import Executor, Future, ThreadPoolExecutor
from dataclasses import fields, replace
from pathlib import Path

import pandas as pd
import pytest

from swinglab.errors import BadRequest
from swinglab.study import Results, cluster, measure_study, measuring, open_study
from swinglab.study.swing import measure_job


@pytest.mark.parametrize("key", ["swinglab's source", "numpy"])
def test_a_worker_with_another_version_is_refused(home: Path, monkeypatch, key: str) -> None:
    """Truth: made. Every swing carries what it was measured with; the first that differs ends the run."""

    def other(job):
        measured = measure_job(job)
        return replace(measured, measured_with={**measured.measured_with, key: "another"})

    monkeypatch.setattr(measuring, "measure_job", other)
    with pytest.raises(BadRequest, match=f"another version of {key}"):
        measure_study(open_study(home), workers=1)


def test_any_executor_measures_the_same_tables(home: Path, measured: Results) -> None:
    """Truth: other (two ways to the same tables). Threads finish in any order; the tables keep the study's."""
    with ThreadPoolExecutor(2) as executor:
        assert_same_tables(measure_study(open_study(home), executor=executor), measured)


def test_an_executor_that_fails_is_named(home: Path) -> None:
    """Truth: made. Its own fault is no fault of a swing: nothing is measured in part."""

    class Broken(Executor):
        def submit(self, call, /, *args, **named):
            future = Future()
            future.set_exception(OSError("no route"))
            return future

    with pytest.raises(BadRequest, match=r"the executor failed while it measured the swings? .*no route"):
        measure_study(open_study(home), executor=Broken())


def assert_same_tables(results: Results, expected: Results) -> None:
    for item in fields(Results):
        one, two = getattr(results, item.name), getattr(expected, item.name)
        if isinstance(one, pd.DataFrame):
            pd.testing.assert_frame_equal(one, two, check_exact=True)


@pytest.mark.parametrize("address", ["nonsense://x", "nonsense://x:1", "", " ", "127.0.0.1"])
def test_what_is_no_address_is_refused_at_once(address: str) -> None:
    """Truth: made. A clear error; an empty text does not start a cluster of its own."""
    pytest.importorskip("distributed")
    with pytest.raises(BadRequest, match="is not the address of a Dask scheduler"):
        list(cluster.measure_on_cluster([], address))


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
def test_an_address_where_no_scheduler_answers() -> None:
    """Truth: other (distributed). A port where nothing listens: ten seconds, then words."""
    pytest.importorskip("distributed")
    with pytest.raises(BadRequest, match="no Dask scheduler answers at"):
        list(cluster.measure_on_cluster([], "tcp://127.0.0.1:1"))


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
def test_a_cluster_gives_the_same_tables_and_waits_for_workers(home: Path, measured: Results) -> None:
    """Truth: other (two ways to the same tables). Without a worker it gives up with words."""
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(n_workers=0, processes=True, dashboard_address=None) as local:
        address = local.scheduler_address
        with pytest.raises(BadRequest, match="has had no worker for 1 s"):
            list(cluster.measure_on_cluster([], address, wait_s=1))
        local.scale(2)
        results = measure_study(open_study(home), scheduler=address)
    assert_same_tables(results, measured)


def _become_another_version() -> None:
    """Run on a worker: its measuring source has another hash from now on."""
    from importlib import import_module

    # The package's list of public names holds a function of the module's name.
    import_module("swinglab.study.run_record").source_hash = lambda parts: "another version"


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
def test_one_of_two_workers_with_another_version_is_refused(home: Path) -> None:
    """Truth: other (distributed). One worker of a cluster holds another swinglab: no row of either is believed."""
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(n_workers=2, processes=True, dashboard_address=None) as local:
        address = local.scheduler_address
        with distributed.Client(address, set_as_default=False) as client:
            client.run(_become_another_version, workers=[next(iter(client.scheduler_info()["workers"]))])
        with pytest.raises(BadRequest, match="another version of swinglab's source"):
            measure_study(open_study(home), scheduler=address, cache=home / ".swinglab" / "swings")
    assert not list(home.rglob("run.json"))
