"""Workers of any kind give the same numbers to the last digit."""

from concurrent.futures import Future, ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context

import numpy as np
import pytest
from fitting.many_curves import RATES, curves

import rheokit as rk
from rheokit.fitting import many as module


@pytest.fixture(autouse=True)
def small_chunks(monkeypatch):
    monkeypatch.setattr(module, "_CHUNK", 6000)  # 200 curves


def assert_identical(one, other):
    for name in ("values", "errors", "determined", "sum_of_squares", "converged", "one_by_one", "used"):
        assert np.array_equal(getattr(one, name), getattr(other, name), equal_nan=name in {"values", "errors", "sum_of_squares"}), name
    assert one.findings == other.findings


def test_a_pool_of_spawned_processes():
    stresses, deviations = curves("cross", 1000)
    stresses[3, 4] = np.nan
    here = rk.fit_many(RATES, stresses, "cross", weighting=deviations)
    seen = []
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as executor:
        there = rk.fit_many(
            RATES, stresses, "cross", weighting=deviations, executor=executor, progress=lambda done, whole: seen.append((done, whole))
        )
        wrong = deviations.copy()
        wrong[777, 3] = 0.0
        with pytest.raises(rk.FitError, match="curve 777 has a standard deviation"):
            rk.fit_many(RATES, stresses, "cross", weighting=wrong, executor=executor)
    assert seen == [(200, 1000), (400, 1000), (600, 1000), (800, 1000), (1000, 1000)]
    assert_identical(here, there)


def test_threads():
    stresses, _ = curves("herschel_bulkley", 900)
    rates = RATES * np.exp(0.1 * np.random.default_rng(0).standard_normal((900, 30)))
    here = rk.fit_many(rates, stresses, "herschel_bulkley")
    with ThreadPoolExecutor(2) as executor:
        assert_identical(here, rk.fit_many(rates, stresses, "herschel_bulkley", executor=executor))


def test_a_cluster_behind_an_executor():
    distributed = pytest.importorskip("distributed")
    stresses, _ = curves("herschel_bulkley", 500)
    here = rk.fit_many(RATES, stresses, "herschel_bulkley")
    with (
        distributed.LocalCluster(n_workers=1, threads_per_worker=2, processes=False, dashboard_address=None) as cluster,
        distributed.Client(cluster) as client,
    ):
        assert_identical(here, rk.fit_many(RATES, stresses, "herschel_bulkley", executor=client.get_executor()))


def test_few_chunks_are_out_at_a_time():
    stresses, _ = curves("newtonian", 12000)
    waiting, most = set(), 0

    class Slow(ThreadPoolExecutor):
        def submit(self, function, /, *arguments, **options):
            nonlocal most
            future: Future = super().submit(function, *arguments, **options)
            waiting.add(future)
            most = max(most, sum(not one.done() for one in waiting))
            return future

    with Slow(1) as executor:
        rk.fit_many(RATES, stresses, "newtonian", executor=executor)
    assert len(waiting) == 60
    assert most <= module._AHEAD
