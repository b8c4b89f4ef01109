"""Water and heat against published tables.

Sphere Handbook (2011 edition), water supply standard 1, basic water needs table (reproduced by an open university's course, table 14.1,
seen). US Army fluid replacement policy for warm weather (IS0877 table 9-1, and the work/rest card of the same family as TB MED 507, seen
in three copies). Values are exact except where a unit is converted: 1 US quart = 0.946352946 L.
"""

from __future__ import annotations

import pytest

from fieldkit.exposure.settings import supply_figures
from fieldkit.exposure.water import LITRES_PER_QUART, daily_water_l, heat_index_f, hourly_water_l
from fieldkit.specs.trip import Climate

FIGURES = supply_figures().water

#: WBGT [degF] of each row's lower edge and inside; quarts an hour of easy, moderate, hard work, as printed
CARD = [
    ((78.0, 81.9), (0.5, 0.75, 0.75)),
    ((82.0, 84.9), (0.5, 0.75, 1.0)),
    ((85.0, 87.9), (0.75, 0.75, 1.0)),
    ((88.0, 89.9), (0.75, 0.75, 1.0)),
    ((90.0, 99.0), (1.0, 1.0, 1.0)),
]


@pytest.mark.parametrize(("edges", "quarts"), CARD)
def test_hourly_water_of_the_heat_card(edges: tuple[float, float], quarts: tuple[float, float, float]) -> None:
    """Fluid replacement card, heat categories 1 to 5: each printed figure at both edges of its category."""
    for wbgt in edges:
        found = [hourly_water_l(wbgt, work, FIGURES) for work in ("easy", "moderate", "hard")]
        assert found == pytest.approx([q * LITRES_PER_QUART for q in quarts])


def test_below_the_cards_first_category_work_adds_nothing() -> None:
    """The card starts at 78 degF."""
    assert hourly_water_l(77.9, "hard", FIGURES) == 0.0


def test_limits_of_drinking() -> None:
    """Card's caution: not above 1.5 quarts (1.42 L) an hour, not above 12 quarts (11.36 L) a day."""
    assert pytest.approx(1.5 * LITRES_PER_QUART, abs=0.005) == FIGURES.most_per_hour
    assert pytest.approx(12 * LITRES_PER_QUART, abs=0.005) == FIGURES.most


def climate(high: float) -> Climate:
    return Climate.model_validate({"day_high": f"{high} degC", "night_low": "0 degC"})


def test_water_of_people_who_wait_is_the_survival_figure() -> None:
    """Sphere table: survival needs, drinking and food, 2.5 to 3 L; in mild weather nothing is added."""
    assert 2.5 <= daily_water_l(climate(20), FIGURES, waiting=True) <= 3.0


def test_water_of_a_travelling_day_is_within_the_published_basic_need() -> None:
    """Sphere table: total basic need 7.5 to 15 L (2.5-3 + 2-6 + 3-6); heat of 45 degC stays inside it."""
    for high in (0, 20, 30, 40, 45):
        assert 7.5 <= daily_water_l(climate(high), FIGURES) <= 15.0


def test_the_published_parts_add_to_the_published_total() -> None:
    """2.5 + 2 + 3 = 7.5 and 3 + 6 + 6 = 15, as the table prints; hygiene is its lower figure."""
    assert (2.5 + 2 + 3, 3 + 6 + 6) == (7.5, 15)
    assert FIGURES.hygiene == 2.0
    assert 2.5 <= FIGURES.drinking <= 3.0


def test_twenty_person_days_as_derived_from_the_table() -> None:
    """Four people, five days, drinking and food only: 50 to 60 L (derived from the table)."""
    assert 50 <= 20 * daily_water_l(climate(20), FIGURES, waiting=True) <= 60


def test_simplified_wbgt_formula() -> None:
    """0.567 T + 0.393 e + 3.94 with T = 31 degC and 65 % humidity.

    e = 0.65 x 6.105 exp(17.27 x 31 / (237.7 + 31)) = 29.1 hPa by the same page's vapour pressure formula; recomputed here.
    """
    from math import exp

    vapour = 0.65 * 6.105 * exp(17.27 * 31 / (237.7 + 31))
    assert vapour == pytest.approx(29.1, abs=0.05)
    assert (heat_index_f(31, vapour) - 32) / 1.8 == pytest.approx(0.567 * 31 + 0.393 * 29.1 + 3.94, abs=0.03)
