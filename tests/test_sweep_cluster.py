"""A sweep on a real cluster of a scheduler and two worker processes gives the numbers of this machine."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from pathlib import Path

import pytest
from distributed import LocalCluster
from sweeps import numbers, written

from meltzone.cases.inputs.errors import CaseError
from meltzone.cases.studies.sweep.run import Progress, run_sweep
from meltzone.cases.studies.sweep.store import rows_of


@pytest.fixture(scope="module")
def cluster() -> Iterator[LocalCluster]:
    """Two worker processes of one thread each, no dashboard."""
    made = LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0", silence_logs=logging.CRITICAL
    )
    with made:
        yield made


def test_the_cluster_gives_the_numbers_of_this_machine(cluster: LocalCluster, tmp_path: Path) -> None:
    vary = '"heater.setpoint" = ["150 degC", "205 degC", "210 degC", "220 degC"]\n"nozzle.bore" = ["2 mm", "5.9 mm"]'
    file = written(tmp_path, vary)
    there = run_sweep(file, tmp_path / "there.sqlite", scheduler=cluster.scheduler_address)
    here = run_sweep(file, tmp_path / "here.sqlite", workers=1)
    assert there.counts == {"found": 3, "no ceiling": 1, "refused": 4}
    for ours, theirs in zip(map(numbers, here.rows), map(numbers, there.rows), strict=True):
        assert {
            name: pytest.approx(value, rel=1e-9) if isinstance(value, float) else value for name, value in ours.items()
        } == theirs


def test_what_is_done_is_not_sent_again(cluster: LocalCluster, tmp_path: Path) -> None:
    file = written(tmp_path)
    first = run_sweep(file, tmp_path / "x.sqlite", scheduler=cluster.scheduler_address)
    assert run_sweep(file, tmp_path / "x.sqlite", scheduler="tcp://127.0.0.1:9").rows == first.rows


def test_workers_with_another_version_are_refused(
    cluster: LocalCluster, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("meltzone.cases.studies.sweep.cluster.version", lambda _: "99.0")
    with pytest.raises(CaseError, match=r"workers that have meltzone 99\.0"):
        run_sweep(written(tmp_path), tmp_path / "x.sqlite", scheduler=cluster.scheduler_address)


def test_a_cluster_without_workers_is_refused(tmp_path: Path) -> None:
    with (
        LocalCluster(n_workers=0, dashboard_address=":0", silence_logs=logging.CRITICAL) as empty,
        pytest.raises(CaseError, match="no workers"),
    ):
        run_sweep(written(tmp_path), tmp_path / "x.sqlite", scheduler=empty.scheduler_address)


def test_a_scheduler_that_does_not_answer(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("meltzone.cases.studies.sweep.cluster.PATIENCE", 0.5)
    for address in ("tcp://127.0.0.1:9", "nonsense://nowhere"):
        with pytest.raises(CaseError, match="--scheduler"):
            run_sweep(written(tmp_path), tmp_path / "x.sqlite", scheduler=address)


def test_a_scheduler_that_ends_in_the_middle_loses_nothing(cluster: LocalCluster, tmp_path: Path) -> None:
    """The last test of the cluster that the others share."""
    vary = '"heater.setpoint" = { from = "200 degC", to = "220 degC", steps = 12 }'
    file, out = written(tmp_path, vary), tmp_path / "x.sqlite"

    def end(progress: Progress) -> None:
        if progress.done == 2:
            cluster.close()

    with pytest.raises(CaseError, match="no longer answers"):
        run_sweep(file, out, scheduler=cluster.scheduler_address, report=end)
    before = [row for row in rows_of(out) if row["status"] != "waiting"]
    assert 2 <= len(before) < 12
    after = run_sweep(file, out, workers=1)
    assert after.counts == {"found": 12}
    assert [row for row in after.rows if row["number"] in {row["number"] for row in before}] == before
