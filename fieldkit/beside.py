"""Questions answered beside the main line: by a second process, or by this one where there is none; the answers are the same."""

from __future__ import annotations

import multiprocessing
import pickle
import signal
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from importlib import import_module
from threading import Lock
from types import TracebackType
from typing import Any, TypeVar

from fieldkit.garbage import look_seldom

Answer = TypeVar("Answer")

#: What says that no second process can be had: memory, rights, limits of the system, no support for processes.
NO_PROCESS = (OSError, RuntimeError, ImportError)


class Beside:
    """A place to put questions whose answers are wanted later.

    The second process takes one question after the other, first asked first, as what it is given stood when it was asked. Who asks for an
    answer that is not ready takes on, while waiting, the next one that nobody has begun: where some take long, ask them first.

    Parameters
    ----------
    second : bool
        Whether a second process answers too. It is started afresh, never as a copy of this one; where it cannot start, or dies, this
        process answers alone. A program that asks for it must be importable without running (``if __name__ == "__main__"``).

    Examples
    --------
    >>> with Beside(second=False) as beside:
    ...     answer = beside.ask(sum, [1, 2, 3])
    ...     answer()
    6
    """

    def __init__(self, second: bool) -> None:
        self._waiting: list[_Question] = []
        self._lock = Lock()
        self._there: Future[Any] | None = None
        self._children: set[Any] = set()
        self._pool: ProcessPoolExecutor | None = None
        if second:
            try:
                self._pool = ProcessPoolExecutor(1, multiprocessing.get_context("spawn"), _begin)
            except NO_PROCESS:
                self._pool = None

    def get_ready(self, module: str) -> None:
        """Let the second process import what it will need; worth it while this one has something else to do."""
        self.ask(import_module, module)

    def ask(self, question: Callable[..., Answer], *given: object) -> Callable[[], Answer]:
        """Ask a function of a module (never a lambda) something; what comes back gives the answer, waiting for it if it must."""
        asked = _Question(question, given)
        if self._pool is not None:
            asked.pack()
        with self._lock:
            self._waiting.append(asked)
        self._hand_over()

        def answer() -> Answer:
            while not asked.settled:
                here = self._to_do_here(asked)
                if here is None:
                    asked.fetch()
                else:
                    here.work_out()
            return asked.answer()

        return answer

    def _hand_over(self) -> None:
        """The first question that waits goes to the second process, when that one has nothing to do."""
        with self._lock:
            first = next((q for q in self._waiting if q.packed), None)
            if self._pool is None or first is None or (self._there is not None and not self._there.done()):
                return
            before = set(multiprocessing.active_children()) if self._there is None else None
            try:
                self._there = self._pool.submit(_answer, first.packed)
            except NO_PROCESS:
                self._pool = None
                return
            if before is not None:
                self._children = set(multiprocessing.active_children()) - before
            self._waiting.remove(first)
            first.there, first.packed = self._there, b""
            there = self._there
        there.add_done_callback(self._next)

    def _next(self, done: Future[Any]) -> None:
        if not done.cancelled() and not isinstance(done.exception(), BrokenProcessPool):
            self._hand_over()

    def _to_do_here(self, wanted: _Question) -> _Question | None:
        """The wanted question where nobody has begun it; while the second process is at it, the first of those that wait."""
        with self._lock:
            if wanted in self._waiting:
                self._waiting.remove(wanted)
                return wanted
            if self._waiting and wanted.there is not None and not wanted.there.done():
                return self._waiting.pop(0)
        return None

    def close(self) -> None:
        """End the second process: what nobody has begun, or has not fetched yet, is dropped."""
        with self._lock:
            self._waiting.clear()
            pool, self._pool = self._pool, None
        if pool is not None:
            pool.shutdown(wait=False, cancel_futures=True)
            for child in self._children:
                child.terminate()  # by itself it would tidy up for a third of a second

    def __enter__(self) -> Beside:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


class _Question:
    """A function and what it is given, packed for the way to another process; settled once there is an answer or an error."""

    def __init__(self, question: Callable[..., Any], given: tuple[object, ...]) -> None:
        self.question, self.given = question, given
        self.packed = b""
        self.there: Future[Any] | None = None
        self.settled = False
        self.found: Any = None
        self.error: Exception | None = None

    def pack(self) -> None:
        """At once, while nobody changes anything; what cannot be packed is worked out here."""
        with suppress(Exception):
            self.packed = pickle.dumps((self.question, self.given), pickle.HIGHEST_PROTOCOL)

    def work_out(self) -> None:
        """In this process."""
        try:
            self.found = self.question(*self.given)
        except Exception as error:
            self.error = error
        self.settled = True

    def fetch(self) -> None:
        """From the second process; whatever went wrong there is tried here, so an error of the question's own comes from here."""
        assert self.there is not None
        try:
            self.found, self.settled = self.there.result(), True
        except Exception:
            self.work_out()

    def answer(self) -> Any:
        if self.error is not None:
            raise self.error
        return self.found


def _answer(packed: bytes) -> Any:
    """In the second process."""
    question, given = pickle.loads(packed)
    return question(*given)


def _begin() -> None:
    """In the second process. A keyboard interrupt reaches both; the first one tells the user, and stops this one."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    look_seldom()
