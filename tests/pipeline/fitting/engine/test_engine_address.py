"""What `--engine` may be, and what is said of an engine that is not there."""

import socket

import pytest

from draincurve.pipeline.fitting.engine import engine_address
from draincurve.pipeline.fitting.engine.dask_engine import DaskEngine
from draincurve.pipeline.fitting.engine.engine_address import (
    LOCAL_CLUSTER,
    differences,
    engine_at,
    package_versions,
    scheduler_address,
)
from draincurve.pipeline.fitting.engine.local_engine import HERE, LocalEngine
from draincurve.pipeline.processing import LARGE_FLEET, SMALL_FLEET
from draincurve.schemas.errors import EngineError


def test_addresses_of_schedulers():
    assert scheduler_address(LOCAL_CLUSTER) is None
    assert scheduler_address("dask://192.0.2.7:8786") == "tcp://192.0.2.7:8786"
    assert scheduler_address("dask://bench.example:8786/") == "tcp://bench.example:8786"
    assert scheduler_address("dask://[::1]:8786") == "tcp://[::1]:8786"


@pytest.mark.parametrize(
    "address",
    ["", "dask", "dask://", "dask://host", "dask://host:", "dask://host:0", "dask://host:65536", "dask://host:12a",
     "tcp://host:8786", "host:8786", "local", "dask://ho st:8786", "dask://a:b:1", "dask://host:8786/x"],
)  # fmt: skip
def test_what_names_no_engine_is_refused_with_what_would(address):
    with pytest.raises(EngineError, match=r"names no engine; expected dask://HOST:PORT.* or local-cluster"):
        scheduler_address(address)


def test_without_dask_it_is_said_how_to_get_it(monkeypatch):
    monkeypatch.setattr(engine_address, "find_spec", lambda name: None if name == "distributed" else object())
    with (
        pytest.raises(EngineError, match=r"not installed; install it with pip install 'draincurve\[distributed\]'"),
        engine_at("dask://127.0.0.1:8786"),
    ):
        pass


def test_where_nobody_listens_it_is_said_what_to_do(monkeypatch):
    monkeypatch.setattr(engine_address, "CONNECT_S", 0.5)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        address = f"dask://127.0.0.1:{free.getsockname()[1]}"
        with (
            pytest.raises(EngineError, match=r"no Dask scheduler answers there .*dask scheduler"),
            engine_at(address),
        ):
            pass


def test_a_scheduler_without_workers_is_refused(monkeypatch):
    from distributed import LocalCluster

    monkeypatch.setattr(engine_address, "CONNECT_S", 0.3)
    with LocalCluster(n_workers=0, processes=True, host="127.0.0.1", dashboard_address="127.0.0.1:0") as cluster:
        address = cluster.scheduler_address.replace("tcp://", "dask://")
        with pytest.raises(EngineError, match="has no workers; start some with `dask worker"), engine_at(address):
            pass


def test_workers_with_other_versions_are_refused(running_workers, monkeypatch):
    running_workers.processes()
    other = package_versions() | {"numpy": "0.1"}
    monkeypatch.setattr(engine_address, "package_versions", _Stub(other))
    with (
        pytest.raises(EngineError, match=r"worker tcp://127.0.0.1:\d+ cannot be used: numpy 0.1 here, .* there"),
        engine_at(running_workers.address),
    ):
        pass


class _Stub:
    """Says other versions here; sent to a worker it is the function that it stands for."""

    def __init__(self, said):
        self.summary = said

    def __call__(self):
        return self.summary

    def __reduce__(self):
        return _the_function, ()


def _the_function():
    return package_versions


def test_a_small_fleet_stays_here_and_says_so(running_workers):
    with engine_at(LOCAL_CLUSTER) as engine_for:
        engine = engine_for(SMALL_FLEET, 2_000)
    assert isinstance(engine, LocalEngine)
    assert "a fleet of 2,000 units is quickest here" in engine.notes[0]
    with engine_at(None) as engine_for:
        assert engine_for(LARGE_FLEET, 10**6) is HERE
    running_workers.processes()
    with engine_at(running_workers.address) as engine_for:
        assert isinstance(engine_for(LARGE_FLEET, 2_001), DaskEngine)


def test_differences_are_named():
    here = {"numpy": "2.4.6", "polars": "2.1.0"}
    assert differences(here, here) == ""
    assert differences(here, {"numpy": "2.4.5", "polars": "2.1.0"}) == "numpy 2.4.6 here, 2.4.5 there"
    assert differences(here, {"numpy": "2.4.6"}) == "polars 2.1.0 here, none there"
