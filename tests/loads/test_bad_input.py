"""Bad figures in a trip's files end in one message each, with file and line, all at once."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from fieldkit.errors import InputFaults
from fieldkit.loads import weigh
from fieldkit.specs.library import Library
from fieldkit.specs.read_trip import load_trip

Spoil = Callable[[str, str, str], Path]
FILE = "vehicles/wagon.toml"


def line_of(folder: Path, text: str) -> int:
    lines = (folder / FILE).read_text(encoding="utf-8").splitlines()
    return next(i for i, line in enumerate(lines, 1) if line.startswith(text))


@pytest.mark.parametrize(
    ("old", "new", "key", "said"),
    [
        (
            'size = "265/75R16"',
            'size = "265-75/16"',
            "size",
            "tyres.size: '265-75/16' is not a tyre size; write a size such as",
        ),
        ('spare_size = "265/75R16"', 'spare_size = "big"', "spare_size", "tyres.spare_size: 'big' is not a tyre size"),
        (
            'spare_size = "265/75R16"',
            'spare_size = "265/75R16"\ndate_code = "9924"',
            "date_code",
            "tyres.date_code '9924' is no week and year; expected week and year as on the sidewall, such as \"2324\"",
        ),
        (
            'spare_size = "265/75R16"',
            'spare_size = "265/75R16"\ndate_code = "1030"',
            "date_code",
            "tyres.date_code '1030' lies after departure (2027-09-06)",
        ),
    ],
)
def test_a_bad_tyre_figure_is_told_with_its_line(
    spoil: Spoil, library: Library, old: str, new: str, key: str, said: str
) -> None:
    folder = spoil(FILE, old, new)
    with pytest.raises(InputFaults) as odd:
        weigh(load_trip(folder, library))
    assert str(odd.value).startswith(f"{FILE}:{line_of(folder, key)}: {said}")
    assert len(odd.value.faults) == 1


def test_three_mistakes_are_told_in_one_run(spoil: Spoil, library: Library) -> None:
    spoil(FILE, 'size = "265/75R16"', 'size = "?"')
    spoil(FILE, 'spare_size = "265/75R16"', 'spare_size = "??"\ndate_code = "x"')
    folder = spoil(FILE, 'front = "220 kPa"', 'index_pressure = "250 kPa"\nfront = "220 kPa"')
    with pytest.raises(InputFaults) as odd:
        weigh(load_trip(folder, library))
    assert [f.place for f in odd.value.faults] == [
        f"{FILE}:{line_of(folder, key)}" for key in ("size", "spare_size", "date_code")
    ]


def test_the_pressure_of_the_marked_load_can_be_written(spoil: Spoil, library: Library) -> None:
    folder = spoil(FILE, 'front = "220 kPa"', 'index_pressure = "450 kPa"\nfront = "220 kPa"')
    loads = weigh(load_trip(folder, library))["wagon"]
    assert not any("index_pressure" in c for c in loads.cautions)
    front = next(m for m in loads.margins if m.limit == "tyre-front-left")
    assert front.limit_kg < 1250


def test_a_clubs_wrong_figure_is_a_fault_not_a_traceback(spoil: Spoil) -> None:
    folder = spoil("trip.toml", "title", "title")
    (folder / "library" / "settings").mkdir(parents=True)
    (folder / "library" / "settings" / "recovery.toml").write_text("[winch]\nplan_layer = 0\n", encoding="utf-8")
    from fieldkit.recovery import plan_recovery

    trip = load_trip(folder)
    with pytest.raises(InputFaults, match=r"settings/recovery\.toml.*winch\.plan_layer is 0"):
        plan_recovery(trip, weigh(trip))
