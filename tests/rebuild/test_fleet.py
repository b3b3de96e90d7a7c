"""Fleets of surveys: the same code on threads, processes and a cluster."""

import doctest
import multiprocessing
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path

import pytest

from tests.rebuild.fleet import metal

ROOT = Path(__file__).resolve().parents[2]
FLEET = [
    ROOT / "sample_surveys" / name
    for name in ("published_autocollimator", "published_forward_backward")
]


@pytest.fixture(scope="module")
def alone():
    return [metal(folder) for folder in FLEET]


def test_threads(alone):
    with ThreadPoolExecutor(2) as executor:
        assert list(executor.map(metal, FLEET)) == alone


def test_processes(alone):
    # started afresh: a fork of a process with threads may lock up
    with ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn")) as executor:
        assert list(executor.map(metal, FLEET)) == alone


def test_a_cluster(alone):
    from distributed import Client

    with Client(
        processes=False, n_workers=1, threads_per_worker=2, dashboard_address=None
    ) as client:
        assert list(client.get_executor().map(metal, FLEET)) == alone


def test_the_example_for_developers_runs(monkeypatch):
    monkeypatch.chdir(ROOT)
    found = doctest.testfile(str(ROOT / "DEVELOPERS.md"), module_relative=False)
    assert found.attempted == 5 and not found.failed
