"""The library's masses and workshop hours against the bands that people in the trade quote.

Common practice, no source: ordering checks, not proofs. A value outside its band wants a reason beside it.
"""

from __future__ import annotations

import pytest

from fieldkit.loads.figures import load_figures
from fieldkit.specs.library import Library
from fieldkit.specs.read_library import _Found, _read_folder, shipped_folder

#: item -> band [kg] of one pack. Common practice, no source.
MASS_BANDS_KG = {
    "spare-wheel": (34, 44),
    "bare-casing": (22, 30),
    "bottle-jack": (4, 6),
    "farm-jack": (12, 14.5),
    "recovery-boards": (6.5, 9),
    "kinetic-rope": (3, 5.5),
    "recovery-strap": (2, 3.2),
    "bow-shackle": (1.1, 1.5),
    "soft-shackle": (0.15, 0.35),
    "snatch-block": (3.5, 6),
    "recovery-ring": (0.6, 1.6),
    "tree-protector": (1.2, 2.2),
    "compressor": (4, 10),
    "tyre-plugs": (1, 2.5),
    "tyre-lever-set": (5, 10),
    "shovel": (1.8, 2.8),
    "diesel-20l": (20.5, 22),
    "petrol-20l": (18.5, 20),
    "water-20l": (21, 22),
    "jump-pack": (0.5, 1.5),
    "jump-leads": (2.5, 5),
    "first-aid-kit": (2, 5),
    "extinguisher-2kg": (3.2, 4.2),
    "engine-oil-5l": (4.4, 5),
    "trailer-bearing-kit": (0.8, 1.6),
    "wheel-bearing-kit": (0.8, 1.6),
    "spare-free-wheel-hub": (1.5, 3),
    "front-joint-with-shaft": (8, 14),
    "front-damper-new": (3, 5.5),
    "rear-damper-new": (3, 5.5),
    "rear-coil-new": (6, 10),
    "starting-battery-new": (22, 30),
    "alternator-new": (5, 8),
}
#: (weak point, workshop option) -> band [h], one mechanic, straight job. Common practice, no source.
HOURS_BANDS = {
    ("gutter-rust", "gutter-rebuilt-one-side"): (15, 40),
    ("door-hinge", "hinge-pins-and-bushes"): (1.5, 4),
    ("seat-belt-webbing", "belt-unit-renewed"): (0.7, 1.5),
    ("front-joint", "front-joints-renewed"): (10, 16),
    ("front-joint", "newer-front-axle-set"): (20, 35),
    ("tie-rod-bent", "thick-tie-rod"): (2, 4),
    ("steering-box-wear", "steering-box-rebuilt"): (2.5, 4.5),
    ("lower-arm-bent", "heavy-arms-fitted"): (1.5, 3),
    ("spring-tower-crack", "towers-welded-and-braced-inside"): (8, 14),
    ("spring-tower-crack", "towers-welded-and-cross-plated"): (2, 5),
    ("bump-stop-lost", "long-stops-fitted"): (0.5, 1.5),
    ("free-wheel-hub", "hubs-with-rings"): (1, 2.5),
    ("rear-differential-gears", "gears-rebuilt"): (7, 12),
    ("rear-differential-gears", "gears-rebuilt-with-locker"): (9, 16),
    ("rear-damper", "reservoir-dampers"): (3, 5),
}
#: The roll of hand tools: sockets, spanners, screwdrivers and pliers together [kg]. Common practice, no source.
TOOL_ROLL, TOOL_ROLL_KG = ("socket-set", "spanner-set", "screwdriver-set", "pliers-set"), (12, 22)


@pytest.fixture(scope="module")
def library() -> Library:
    folder = shipped_folder("vehicle_specs")
    found = Library(folder)
    _read_folder(folder, found, _Found())
    return found


@pytest.mark.parametrize("item", MASS_BANDS_KG)
def test_mass_lies_in_the_band_of_the_trade(library: Library, item: str) -> None:
    low, high = MASS_BANDS_KG[item]
    assert low <= library.items[item].mass_kg <= high


def test_the_tool_roll_weighs_what_tool_rolls_weigh(library: Library) -> None:
    low, high = TOOL_ROLL_KG
    assert low <= sum(library.items[i].mass_kg for i in TOOL_ROLL) <= high


def test_an_empty_can_weighs_what_empty_cans_weigh(library: Library) -> None:
    """Full less 20 L at the density of the load figures: 4 to 4.6 kg."""
    density = load_figures(library).density
    for fuel in ("diesel", "petrol"):
        assert 4.0 <= library.items[f"{fuel}-20l"].mass_kg - 20 * density[fuel] <= 4.6


def test_a_winch_weighs_what_it_adds_to_its_bar(library: Library) -> None:
    """With soft rope 24 to 32 kg, with wire 36 to 46 kg."""
    with_winch, plain = (library.modifications[key].mass_kg for key in ("front-bar-and-winch", "front-bar-plain"))
    assert 24 <= with_winch - plain <= 46


def test_a_loaded_fridge_weighs_what_loaded_fridges_weigh(library: Library) -> None:
    """40 L with food at 0.3 kg a litre (judgement): 35 to 45 kg."""
    assert 35 <= library.modifications["fridge-fitted"].mass_kg + 40 * 0.3 <= 45


def test_a_lithium_battery_saves_the_mass_that_it_is_bought_for(library: Library) -> None:
    """100 Ah alone 10 to 14 kg; charger, cables and tray 3 to 5 kg (judgement) come on top."""
    assert 13 <= library.modifications["lithium-second-battery"].mass_kg <= 19


@pytest.mark.parametrize("mode, option", HOURS_BANDS)
def test_workshop_hours_lie_in_the_band_of_the_trade(library: Library, mode: str, option: str) -> None:
    low, high = HOURS_BANDS[mode, option]
    hours = {o.id: o.hours for o in library.failure_modes[mode].workshop}
    assert low <= hours[option] <= high


def test_survival_water_is_the_published_minimum(library: Library) -> None:
    """Sphere handbook, basic water needs table (2011 edition, as a university course reproduces it):
    2.5 to 3 L per person and day for drinking and food."""
    rule = library.must_carry["drinking-water"]
    litres = rule.per_person_day * library.items[rule.item].pack_size
    assert 2.5 <= litres <= 3.0
