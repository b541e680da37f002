"""How many threads the linear algebra of a solve takes: one, unless a person asks otherwise."""

from __future__ import annotations

import numpy as np
import pytest
from threadpoolctl import threadpool_info, threadpool_limits

from meltzone.fem.threads import ASKED, one_thread


@one_thread()
def _counts() -> set[int]:
    np.ones((2, 2)) @ np.ones((2, 2))
    return {pool["num_threads"] for pool in threadpool_info() if pool["user_api"] == "blas"}


def test_a_solve_takes_one_thread_and_leaves_the_rest_as_it_was(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ASKED:
        monkeypatch.delenv(name, raising=False)
    with threadpool_limits(2, user_api="blas"):
        before = {pool["num_threads"] for pool in threadpool_info()}
        assert _counts() == {1}
        assert {pool["num_threads"] for pool in threadpool_info()} == before == {2}


@pytest.mark.parametrize("name", ASKED)
def test_who_asks_for_threads_gets_them(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(name, "2")
    with threadpool_limits(2, user_api="blas"):
        assert _counts() == {2}
