"""One solve at a time for each page: the newest request waits for the one that runs, all older ones are dropped."""

from __future__ import annotations

import asyncio
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import TypeVar

Answered = TypeVar("Answered")
Reporting = Callable[[str], None]
MOST_PAGES = 50  # that are remembered
WORKERS = 2  # as many pages are answered at a time


class Dropped(Exception):
    """A newer request of the same page has come."""


@dataclass
class Turn:
    """What is known of a page: the `newest` number that it has sent, and the `lock` of the one solve."""

    newest: int = -1
    lock: asyncio.Lock = field(default_factory=asyncio.Lock)


class Turns:
    """The pages that ask, and the threads that solve for them."""

    def __init__(self) -> None:
        self._pages: OrderedDict[str, Turn] = OrderedDict()
        self._workers = ThreadPoolExecutor(WORKERS, thread_name_prefix="solve")

    def _turn(self, page: str) -> Turn:
        turn = self._pages.setdefault(page, Turn())
        self._pages.move_to_end(page)
        while len(self._pages) > MOST_PAGES:
            self._pages.popitem(last=False)
        return turn

    async def take(self, page: str, number: int, solve: Callable[[Reporting], Answered]) -> Answered:
        """What `solve` gives for request `number` of a `page`; raises Dropped once a newer one has come."""
        turn = self._turn(page)
        turn.newest = max(turn.newest, number)
        async with turn.lock:
            return await self.aside(solve, lambda: number < turn.newest)

    async def aside(
        self, solve: Callable[[Reporting], Answered], stale: Callable[[], bool] = lambda: False
    ) -> Answered:
        """What `solve` gives, in a thread; raises Dropped where it is `stale` before it begins or at a stage of it."""

        def heed(_: str) -> None:
            if stale():
                raise Dropped

        def work() -> Answered:
            heed("")
            return solve(heed)

        return await asyncio.get_running_loop().run_in_executor(self._workers, work)

    def close(self) -> None:
        """Let no further solve begin."""
        self._workers.shutdown(wait=False, cancel_futures=True)
