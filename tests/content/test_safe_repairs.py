"""Kinds of slip that would hurt somebody, looked for in every repair: usual workshop rules, common practice, no source."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from fieldkit.specs.library import Procedure
from fieldkit.specs.read_library import load_library

LIBRARY = load_library()
#: A brake that was opened, taken apart or pushed back: the pedal may find nothing at its first press.
BRAKE_APART = re.compile(
    r"(unbolt|hang|refit|wire|disc,) .{0,25}calliper|brake pipe|push the pistons|brake drum|bleed (that|the) (wheel|circuit)|\bbrake and wheel\b|hub, brake",
    re.I,
)
PEDAL = re.compile(r"(pump|press) the (brake )?pedal", re.I)
#: Words of a step -> the tool that it needs; each pattern is an instruction, not a mention.
NAMED = {
    r"locking (pliers|jaws)": "locking-pliers",
    r"\bdrill (them|it|out|a hole|holes|through)": "hand-drill",
    r"\bsaw (it|off|through|the)": "hacksaw",
    r"torque wrench": "torque-wrench",
    r"flare spanner": "spanner-set",
    r"\bG-clamps?\b": "bolt-g-clamps",
    r"spring balance": "spring-balance",
    r"(hold|place|set|under|above|over) the tray\b": "drain-tray",
    r"test lamp": "test-lamp",
    r"hub socket": "hub-socket",
    r"solder": "soldering-iron",
}
#: Work that throws chips or fluid at the face.
AT_THE_FACE = {"hand-drill", "hacksaw", "brake-bleed-kit", "flaring-tool"}


def repairs() -> Iterator[tuple[str, Procedure, list[str]]]:
    for key, procedure in sorted(LIBRARY.procedures.items()):
        yield key, procedure, steps_of(procedure)


def steps_of(procedure: Procedure) -> list[str]:
    return re.findall(r"(?m)^\d+\. (.*)$", procedure.sections["Steps"])


def carried(procedure: Procedure) -> set[str]:
    head = procedure.head
    return {*head.tools, *head.supplies, *head.spares}


def test_the_pedal_is_pumped_before_a_vehicle_whose_brake_was_apart_moves() -> None:
    found = []
    for key, _, steps in repairs():
        apart = [n for n, step in enumerate(steps) if BRAKE_APART.search(step)]
        if apart and not any(PEDAL.search(step) for step in steps[apart[-1] :]):
            found.append(f"{key}: {steps[apart[-1]]}")
    assert not found, "\n".join(found)


def test_eyes_are_covered_where_chips_or_brake_fluid_fly() -> None:
    found = [
        f"{key}: {', '.join(sorted(AT_THE_FACE & carried(p)))}"
        for key, p, _ in repairs()
        if AT_THE_FACE & carried(p) and "safety-glasses" not in carried(p)
    ]
    assert not found, "\n".join(found)


def test_a_jack_comes_with_its_plate_and_chocks() -> None:
    found = [
        f"{key}: {item}"
        for key, p, _ in repairs()
        if "bottle-jack" in carried(p)
        for item in ("base-plate", "wheel-chocks")
        if item not in carried(p)
    ]
    assert not found, "\n".join(found)


@pytest.mark.parametrize("words", sorted(NAMED))
def test_a_tool_that_a_step_names_is_listed(words: str) -> None:
    found = [
        f"{key}: {step}"
        for key, p, steps in repairs()
        for step in steps
        if re.search(words, step, re.I) and NAMED[words] not in carried(p)
    ]
    assert not found, "\n".join(found)


def test_a_helper_in_the_steps_is_counted() -> None:
    """A step that has a helper do something is not for one person alone, unless it says what one alone does."""
    helped = re.compile(r"\b(the|a) helper (press|hold|turn|pump|watch|push|swing)|have (the|a) helper", re.I)
    found = [f"{key}: {s}" for key, p, steps in repairs() for s in steps if helped.search(s) and p.head.people < 2]
    assert not found, "\n".join(found)


def test_nobody_is_sent_to_a_running_engine_with_wheels_raised() -> None:
    found = [
        f"{key}: {s}"
        for key, p, steps in repairs()
        for s in (*steps, p.sections["Check"])
        if re.search(r"in gear on stands|engine (running|at idle).{0,40}(off the ground|raised|on stands)", s, re.I)
    ]
    assert not found, "\n".join(found)


def test_protection_that_a_hazard_asks_for_is_listed() -> None:
    """Glasses and gloves named as the way to avoid a hazard are among the repair's tools."""
    found = []
    for key, p, _ in repairs():
        asked = " ".join(a for h in p.head.hazards for a in h.avoid)
        if re.search(r"glasses|cover your eyes|goggles", asked, re.I) and "safety-glasses" not in carried(p):
            found.append(f"{key}: glasses")
        if re.search(r"\bgloves\b", asked) and not any("gloves" in item for item in carried(p)):
            found.append(f"{key}: gloves")
    assert not found, "\n".join(found)
