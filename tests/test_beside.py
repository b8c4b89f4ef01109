"""What is worked out beside the main line is the same wherever it is worked out, and errors and stops stay plain."""

from __future__ import annotations

import math
import os
import time

import pytest

from fieldkit.beside import Beside
from fieldkit.errors import CannotBeSolved
from fieldkit.export import plan_json
from fieldkit.plan import make_plan
from fieldkit.report import example_folder
from fieldkit.specs.library import Library
from fieldkit.specs.read_trip import load_trip


def slowly(seconds: float, answer: int) -> tuple[int, int]:
    """The answer, and the process it came from."""
    time.sleep(seconds)
    return answer, os.getpid()


def refused(words: str) -> None:
    raise CannotBeSolved(words)


def dead() -> int:
    """Ends the second process on the spot; answers in the first."""
    if os.getpid() != int(os.environ["FIRST_PROCESS"]):
        os._exit(1)
    return 7


@pytest.mark.parametrize("second", [False, True])
def test_answers_are_the_same_with_and_without_a_second_process(second: bool) -> None:
    """Each question has its own answer, asked for in any order, as often as wanted."""
    with Beside(second) as beside:
        answers = [beside.ask(math.factorial, n) for n in range(5)]
        assert [a() for a in reversed(answers)] == [24, 6, 2, 1, 1]
        assert answers[4]() == 24


def test_the_second_process_answers_while_the_first_takes_what_nobody_has_begun() -> None:
    """A wait for one answer is spent on the next question that waits."""
    with Beside(second=True) as beside:
        first, *rest = [beside.ask(slowly, 0.3, n) for n in range(3)]
        assert first()[0] == 0 and first()[1] != os.getpid()
        assert rest[0]() == (1, os.getpid())
        assert rest[1]()[0] == 2


def test_the_second_process_gets_what_it_is_given_as_it_stood() -> None:
    """Changed after it was asked, a list is summed up as it was; what cannot be packed is answered here."""
    with Beside(second=True) as beside:
        assert beside.ask(slowly, 0.0, 0)()[1] != os.getpid()  # it is there
        beside.ask(slowly, 0.3, 0)
        given = [1, 2, 3]
        asked, own = beside.ask(sum, given), beside.ask(lambda: os.getpid())
        given.append(4)
        time.sleep(1.0)
        assert asked() == 6
        assert own() == os.getpid()


@pytest.mark.parametrize("second", [False, True])
def test_an_error_comes_to_who_asks_for_the_answer(second: bool) -> None:
    """The question's own error, in its own words, and nothing before the answer is asked for."""
    with Beside(second) as beside:
        broken, sound = beside.ask(refused, "too heavy by 3 kg"), beside.ask(math.factorial, 3)
        assert sound() == 6
        with pytest.raises(CannotBeSolved, match="too heavy by 3 kg"):
            broken()


def test_a_second_process_that_dies_is_made_up_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """This process answers what was lost, and what waited behind it."""
    monkeypatch.setenv("FIRST_PROCESS", str(os.getpid()))
    with Beside(second=True) as beside:
        lost, behind = beside.ask(dead), beside.ask(math.factorial, 4)
        assert lost() == 7
        assert behind() == 24


def test_a_system_without_processes_is_no_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a pool cannot be made, everything is answered here."""

    def none(*_: object) -> None:
        raise OSError("no more processes")

    monkeypatch.setattr("fieldkit.beside.ProcessPoolExecutor", none)
    with Beside(second=True) as beside:
        assert beside.ask(slowly, 0.0, 5)() == (5, os.getpid())


def test_an_error_on_the_main_line_does_not_wait_for_the_second_process() -> None:
    """What the second process is at is dropped with it."""
    began = time.perf_counter()
    with pytest.raises(CannotBeSolved), Beside(second=True) as beside:
        beside.ask(slowly, 60.0, 1)
        raise CannotBeSolved("no kit")
    assert time.perf_counter() - began < 30.0


def test_a_full_plan_is_the_same_with_a_second_process(library: Library) -> None:
    """Every figure of plan.json: curve, redraws, what moves a total and trial runs come from wherever there was time."""
    trip = load_trip(example_folder(solo=True), library)
    with Beside(second=True) as beside:
        beside.get_ready("fieldkit.plan")
        both = plan_json(make_plan(trip, beside=beside))
    assert both == plan_json(make_plan(trip))
