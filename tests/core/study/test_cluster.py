"""A study on a two-worker cluster of this machine: same numbers, and a worker killed on the way."""

from __future__ import annotations

import json
import os
import signal
import threading
import time

import numpy as np
import pytest

from core.project import library
from core.study.executors import run_chunks
from core.study.tolerance.tolerance import BLOCK, tolerance_study

pytestmark = pytest.mark.slow
distributed = pytest.importorskip("distributed")


@pytest.fixture(scope="module")
def cluster():
    options = {"threads_per_worker": 1, "processes": True, "host": "127.0.0.1", "dashboard_address": None}
    with distributed.LocalCluster(n_workers=2, **options) as made:
        yield made


def test_same_numbers_as_here(cluster):
    project = library.example("lab-beam")
    here = tolerance_study(project, samples=4 * BLOCK, seed=3)
    with distributed.Client(cluster, set_as_default=False) as client, client.get_executor(pure=False) as pool:
        there = tolerance_study(project, samples=4 * BLOCK, seed=3, executor=pool, chunk=BLOCK)
    np.testing.assert_array_equal(here.samples.zeta, there.samples.zeta)
    assert here.modes == there.modes


def test_the_command_takes_a_scheduler(cluster, tmp_path, capsys):
    from app.main import main
    from core.project import store

    file, out = tmp_path / "beam.quietspan", tmp_path / "out.json"
    store.save(library.example("lab-beam"), file)
    arguments = ["study", str(file), "--samples", "256", "--seed", "3", "--out", str(out)]
    assert main([*arguments, "--scheduler", cluster.scheduler_address]) == 0
    there = json.loads(out.read_text(encoding="utf-8"))
    assert main(arguments) == 0
    assert json.loads(out.read_text(encoding="utf-8")) == there
    assert "Main causes" in capsys.readouterr().out


def _slow_square(value: int) -> int:
    time.sleep(0.15)
    return value * value


def test_a_worker_killed_in_the_middle(cluster):
    """The scheduler gives its chunks to the other; every result comes once."""
    with distributed.Client(cluster, set_as_default=False) as client, client.get_executor(pure=False) as pool:
        killed: list[int] = []
        killer = threading.Timer(0.5, _kill_one, (cluster, killed))
        killer.start()
        found = list(run_chunks([(_slow_square, (i,)) for i in range(24)], pool))
        killer.join()
    assert killed and killed[0] not in _pids(cluster)
    assert sorted(found) == [(i, i * i) for i in range(24)]


def _pids(cluster) -> list[int]:
    return [nanny.pid for nanny in cluster.workers.values()]


def _kill_one(cluster, killed: list[int]) -> None:
    """End one worker's process the hard way."""
    killed.append(_pids(cluster)[0])
    os.kill(killed[0], signal.SIGKILL)


def test_no_scheduler_is_told_in_a_sentence(tmp_path, capsys):
    from app.main import main
    from core.project import store

    file = tmp_path / "beam.quietspan"
    store.save(library.example("lab-beam"), file)
    assert main(["study", str(file), "--samples", "50", "--scheduler", "tcp://127.0.0.1:9"]) == 1
    assert "No scheduler answers at tcp://127.0.0.1:9" in capsys.readouterr().err
