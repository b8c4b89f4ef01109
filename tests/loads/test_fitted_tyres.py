"""What a vehicle stands on, and what follows from it."""

from __future__ import annotations

from datetime import date

import pytest
from loaded_case import START, build, vehicle

from fieldkit.errors import InputFaults
from fieldkit.loads import derived_features, fitted_tyre
from fieldkit.loads.fitted_tyres import date_code_fault, made_on, size_and_index, tyre_faults


def test_own_tyres_win_over_a_parts_and_the_builds() -> None:
    """[tyres] says what is on; a part's size comes next; the build's last."""
    assert size_and_index(vehicle()) == ("265/70R16", 112)
    assert size_and_index(vehicle(fitted=["tall"])) == ("285/75R16", 122)
    assert size_and_index(vehicle(fitted=["tall"], tyres={"size": "265/75R16"})) == ("265/75R16", 122)
    assert size_and_index(vehicle(tyres={"size": "265/75R16", "load_index": 116})) == ("265/75R16", 116)


@pytest.mark.parametrize(
    ("size", "expected"),
    [
        ("265/70R16", set()),
        ("265/75R16", set()),  # 3.4 % taller
        ("285/75R16", {"tyres-5-percent-taller"}),  # 7.3 %
        ("35x12.5R16", {"tyres-5-percent-taller", "tyres-10-percent-taller"}),  # 14.4 %
    ],
)
def test_tall_tyres_are_told_by_their_diameter(size: str, expected: set[str]) -> None:
    assert derived_features(vehicle(tyres={"size": size})) == expected


@pytest.mark.parametrize(
    ("fitted", "expected"),
    [
        ([], set()),
        (["lift"], {"lifted-over-40-mm"}),
        (["heavy-lift"], {"lifted-over-40-mm", "lifted-over-75-mm"}),
        (["lift", "heavy-lift"], {"lifted-over-40-mm", "lifted-over-75-mm"}),
    ],
)
def test_lift_is_the_sum_of_the_parts(fitted: list[str], expected: set[str]) -> None:
    assert derived_features(vehicle(fitted=fitted)) == expected


def test_an_odd_spare_is_a_feature_and_none_is_not() -> None:
    odd = {"size": "285/75R16", "spare_size": "265/70R16"}
    assert "odd-spare" in derived_features(vehicle(tyres=odd))
    assert "odd-spare" not in derived_features(vehicle(tyres={**odd, "spares": 0}))
    assert "odd-spare" not in derived_features(vehicle(tyres={"size": "285/75R16"}))
    assert fitted_tyre(vehicle(tyres={**odd, "spares": 0})).spare is None


def test_every_fault_of_the_tyres_is_told_with_the_vehicles_file() -> None:
    """Size, spare and index at once."""
    bad = vehicle(tyres={"size": "265-75/16", "spare_size": "tall", "load_index": 140})
    found = [str(f) for f in tyre_faults(bad)]
    assert len(found) == 2
    assert all(f.startswith("vehicles/wagon.toml: tyres.") for f in found)
    assert "'265-75/16' is not a tyre size" in found[0]
    assert "tyres.spare_size: 'tall' is not a tyre size" in found[1]
    with pytest.raises(InputFaults):
        derived_features(bad)


def test_an_index_that_a_clubs_table_does_not_have_is_a_fault() -> None:
    from fieldkit.loads.figures import tyre_figures

    short = tyre_figures().model_copy(update={"load_index": {100: 800.0, 101: 825.0}})
    found = tyre_faults(vehicle(), short)
    assert [str(f) for f in found] == [
        "vehicles/wagon.toml: tyres.load_index is 112; expected an index in the table, 100 to 101"
    ]


@pytest.mark.parametrize(
    ("code", "made"),
    [
        ("2324", date(2024, 6, 3)),
        ("DOT AB12 CDEF 0119", date(2018, 12, 31)),  # ISO week 1 of 2019 begins in 2018
        ("5320", date(2020, 12, 28)),
        ("5321", date(2021, 12, 27)),  # a week 53 in a year of 52: its last
        ("238", date(1998, 6, 1)),  # three figures: before 2000
        ("0023", None),
        ("5424", None),
        ("abcd", None),
        ("24", None),
    ],
)
def test_date_codes(code: str, made: date | None) -> None:
    """Week and year; the Monday of that week by ISO 8601."""
    assert made_on(code) == made


def test_a_date_code_after_departure_is_a_fault() -> None:
    late = vehicle(tyres={"size": "265/70R16", "date_code": "3028"})
    fault = date_code_fault(late, START)
    assert str(fault) == (
        "vehicles/wagon.toml: tyres.date_code '3028' lies after departure (2027-06-01); "
        'expected week and year as on the sidewall, such as "2324"'
    )
    assert date_code_fault(vehicle(), START) is None


def test_the_builds_own_size_is_checked_too() -> None:
    odd = build(tyre={"size": "round", "load_index": 112})
    found = [f.found for f in tyre_faults(vehicle(on=odd, tyres={"size": "265/70R16"}))]
    assert len(found) == 1
    assert found[0].startswith("build's tyre: 'round' is not a tyre size")
