"""Fits and blocks on real worker processes, some of them killed in the midst of it, against the same done here."""

import os
import time

import numpy as np
import pytest
from invented_ratings import invented_log, likelihood_of
from mortal_work import MortalLikelihood, mortal_square, process_id, refused
from numpy.testing import assert_allclose, assert_array_equal

from draincurve.pipeline.fitting.engine.dask_engine import DaskEngine
from draincurve.pipeline.fitting.engine.dask_workers import Workers, reached_directly
from draincurve.pipeline.fitting.engine.local_engine import HERE
from draincurve.pipeline.fitting.objective import Objective
from draincurve.pipeline.fitting.parameters import ParameterLayout
from draincurve.pipeline.fitting.prior import prior_for
from draincurve.schemas.errors import EngineError, FitError
from draincurve.schemas.settings import Priors

UNITS = 2_100


@pytest.fixture(scope="module")
def client(running_workers):
    from distributed import Client

    with Client(running_workers.cluster, direct_to_workers=True) as found:
        yield found


@pytest.fixture
def engine(client, running_workers):
    running_workers.processes()
    return DaskEngine(Workers(client))


def objective_of(likelihood):
    layout = ParameterLayout(5, 3, 0, (), True, True)
    prior = prior_for(layout, Priors(), link=likelihood.link, column_scales=np.ones(3), column_means=np.zeros(3))
    return Objective(likelihood, layout, prior, single_pass=True)


def likelihood_here(kind=None, marker=""):
    """A large fleet's likelihood and a start."""
    log = invented_log(np.full(UNITS, 2), seed=6)
    likelihood, _ = likelihood_of(log, "logit", 9)
    if kind is not None:
        likelihood.__class__ = kind
        likelihood.marker = str(marker)
    return likelihood


def maximised(engine, likelihood):
    objective = objective_of(likelihood)
    maximum = objective.maximise(objective.prior.median, engine=engine)
    return maximum, likelihood.modes


@pytest.fixture(scope="module")
def here():
    return maximised(HERE, likelihood_here())


def same_bits(found, expected):
    (one, modes), (other, others) = found, expected
    assert one.converged
    assert one.point.value == other.point.value
    assert_array_equal(one.point.working, other.point.working)
    assert_array_equal(one.hessian, other.hessian)
    assert_array_equal(modes, others)


def test_workers_give_the_same_bits_as_here(engine, here):
    same_bits(maximised(engine, likelihood_here()), here)
    assert engine.notes == ()
    whole, modes = maximised(None, likelihood_here())
    assert_allclose(here[0].point.working, whole.point.working, atol=1e-8)
    assert_allclose(here[1], modes, atol=1e-8)


def test_the_workers_and_not_this_process_do_it(engine, running_workers):
    assert set(engine.map(process_id, range(12))) <= set(running_workers.processes())


def test_a_worker_killed_in_the_midst_of_a_pass_changes_no_bit(engine, here, tmp_path):
    marker = tmp_path / "died"
    same_bits(maximised(engine, likelihood_here(MortalLikelihood, marker)), here)
    assert marker.exists()
    assert "others took over" in engine.notes[0]


def test_a_worker_killed_between_passes_changes_no_bit(engine, here, running_workers):
    likelihood = likelihood_here()
    rounds = iter(range(100))

    class KillingEngine(DaskEngine):
        def partitioned(self, likelihood):
            partitions = super().partitioned(likelihood)

            class Wrapped:
                def __enter__(self):
                    inner = partitions.__enter__()
                    expansion = inner.expansion

                    def killing(natural):
                        if next(rounds) == 1:
                            running_workers.kill(1)
                        return expansion(natural)

                    inner.expansion = killing
                    return inner

                def __exit__(self, *fault):
                    return partitions.__exit__(*fault)

            return Wrapped()

    same_bits(maximised(KillingEngine(engine._workers), likelihood), here)
    assert next(rounds) > 2


def test_a_worker_killed_in_the_midst_of_a_block_loses_none(engine, tmp_path):
    marker = tmp_path / "died"
    tasks = [(number, str(marker)) for number in range(30)]
    assert list(engine.map(mortal_square, tasks)) == [number**2 for number in range(30)]
    assert marker.exists()


def test_where_all_workers_are_lost_the_rest_is_done_here(client, here, running_workers):
    for process in running_workers.processes():
        os.kill(process, 9)
    while client.nthreads():
        time.sleep(0.01)
    engine = DaskEngine(Workers(client, give_up_s=0.0))
    same_bits(maximised(engine, likelihood_here()), here)
    assert set(engine.map(process_id, range(3))) == {os.getpid()}
    assert "All workers of the cluster were lost, so the rest was computed here" in engine.notes[0]


def test_where_the_scheduler_is_lost_the_rest_is_done_here(here):
    from distributed import Client, LocalCluster

    with LocalCluster(n_workers=0, processes=True, host="127.0.0.1", dashboard_address="127.0.0.1:0") as cluster:
        client = Client(cluster)
        engine = DaskEngine(Workers(client, give_up_s=0.5))
        cluster.close()
        same_bits(maximised(engine, likelihood_here()), here)
        assert set(engine.map(process_id, range(3))) == {os.getpid()}
        assert "computed here" in engine.notes[0]
        client.close()


def test_a_fault_on_a_worker_is_said_in_one_line(engine):
    with pytest.raises(EngineError, match=r"cluster failed \(MemoryError: too little\).*without --engine"):
        list(engine.map(refused, [MemoryError("too little")]))
    with pytest.raises(FitError, match="has no answer"):
        list(engine.map(refused, [FitError("has no answer")]))


def test_workers_out_of_direct_reach_are_asked_through_the_scheduler(client, here, monkeypatch, running_workers):
    running_workers.processes()

    def closed(*_):
        raise OSError("no way through")

    with monkeypatch.context() as context:
        context.setattr(client, "rpc", closed)
        assert not reached_directly(client)
        client.direct_to_workers = False
        same_bits(maximised(DaskEngine(Workers(client)), likelihood_here()), here)
    client.direct_to_workers = True
    assert reached_directly(client)
