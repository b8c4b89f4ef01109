"""Work done beside the main line in a second process, or in this one where there is none; the answers are the same."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from pickle import PicklingError
from types import TracebackType
from typing import TypeVar

Answer = TypeVar("Answer")

#: What says that no second process can be had, or that it is gone: memory, rights, limits of the system.
NO_PROCESS = (OSError, RuntimeError, BrokenProcessPool, PicklingError)


class Beside:
    """A place to put questions whose answers are wanted later.

    Parameters
    ----------
    second : bool
        Whether a second process answers. It is started afresh (never forked), so ``fork`` and threads never meet; where it
        cannot start, or dies, this process answers instead.

    Examples
    --------
    >>> with Beside(second=False) as beside:
    ...     answer = beside.ask(sum, [1, 2, 3])
    ...     answer()
    6
    """

    def __init__(self, second: bool) -> None:
        self._pool: ProcessPoolExecutor | None = None
        if second:
            try:
                self._pool = ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn"))
            except NO_PROCESS:
                self._pool = None

    def ask(self, question: Callable[..., Answer], *given: object) -> Callable[[], Answer]:
        """Ask a function of a module (never a lambda) something; what comes back gives the answer, waiting for it if it must."""
        future: Future[Answer] | None = None
        if self._pool is not None:
            try:
                future = self._pool.submit(question, *given)
            except NO_PROCESS:
                future = None

        def answer() -> Answer:
            if future is not None:
                try:
                    return future.result()
                except NO_PROCESS:
                    pass
            return question(*given)

        return answer

    def close(self) -> None:
        """Let the second process go; what it has not begun is dropped."""
        if self._pool is not None:
            self._pool.shutdown(wait=False, cancel_futures=True)
            self._pool = None

    def __enter__(self) -> Beside:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
