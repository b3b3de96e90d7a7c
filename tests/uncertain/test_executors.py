"""Whoever draws, the draws are the same: threads, processes, a cluster."""

import multiprocessing
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor

import numpy as np
import pytest

from metrolib.errors import InputError
from metrolib.form.flatness import flatness
from metrolib.form.straightness import straightness
from metrolib.uncertain.linear import Measured
from metrolib.uncertain.montecarlo import monte_carlo
from tests.uncertain.models import Model, model, sum_of

X = np.arange(12) * 100.0
COV = 1e-6 * (np.eye(12) + 0.5)


Z = -0.01 * np.sin(X / 350)


def assert_same(executor):
    for result, how in (
        (straightness(X, Z, COV), {"draws": 35_000}),
        (straightness(X, Z, COV), {"digits": 1}),
        (flatness(X, np.arange(12) % 3 * 50.0, Z, COV), {"draws": 15_000}),
        (model(sum_of, 4, 0.0, 2.0), {"digits": 2}),
    ):
        alone = monte_carlo(result, **how)
        shared = monte_carlo(result, executor=executor, **how)
        np.testing.assert_array_equal(shared.samples, alone.samples)
        assert (shared.draws, shared.settled) == (alone.draws, alone.settled)


def test_threads():
    with ThreadPoolExecutor(3) as executor:
        assert_same(executor)


def test_processes():
    # started afresh: a fork of a process with threads may lock up
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")) as executor:
        assert_same(executor)


def test_a_cluster():
    from distributed import Client

    with Client(
        processes=False, n_workers=1, threads_per_worker=2, dashboard_address=None
    ) as client:
        assert_same(client.get_executor())


class Backwards(Executor):
    """Does all that waits, last one first, when the first result is asked for."""

    def __init__(self):
        self.waiting, self.begun, self.cancelled = [], 0, 0

    def submit(self, function, /, *arguments):
        future = _Late(self)
        self.waiting.append((future, function, arguments))
        self.begun += 1
        return future

    def run(self):
        while self.waiting:
            future, function, arguments = self.waiting.pop()
            future.set_result(function(*arguments))


class _Late(Future):
    def __init__(self, executor):
        super().__init__()
        self.executor = executor

    def result(self, timeout=None):
        self.executor.run()
        return super().result(timeout)

    def cancel(self):
        self.executor.cancelled += 1
        return super().cancel()


def test_batches_done_in_any_order():
    assert_same(Backwards())


def test_what_was_begun_in_vain_is_called_off():
    executor = Backwards()
    found = monte_carlo(model(sum_of, 4, 0.0, 2.0), digits=1, executor=executor)
    used = found.draws // 10_240
    assert used + executor.cancelled == executor.begun
    assert executor.begun <= 8 + used


def test_many_batches_keep_all_workers_busy():
    executor = Backwards()
    found = monte_carlo(model(sum_of, 1, 0.0, 1.0), draws=30 * 10_240, executor=executor)
    assert (found.draws, executor.begun, executor.cancelled) == (30 * 10_240, 30, 0)


def no_numbers(z):
    return np.full(len(z), np.nan)


def test_an_error_comes_back_from_another_process():
    heights = Measured(np.zeros(2), np.ones(2), None)
    broken = Model(model(sum_of, 2, 0.0, 1.0).value, heights, no_numbers)
    with ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn")) as executor:
        with pytest.raises(InputError, match="no number comes out of some draws"):
            monte_carlo(broken, draws=20_000, executor=executor)
