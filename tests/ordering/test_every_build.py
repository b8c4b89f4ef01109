"""The same ordering checks on every build of the library that can carry the part and has the weak point: common practice, no source.

A part is fitted alone on a vehicle that is otherwise as built, new at the same distance; the figure of a weak point must move the way
that mechanics know it to move, on each build. ``UP`` and ``DOWN`` are never equal; nothing falls to nought.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import pytest

from fieldkit.likelihood.result import Risks
from fieldkit.specs.library import Library

Rough = Callable[..., Risks]

AHEAD = ("grille-lights", "spare-condenser", "oil-cooler-fitted", "front-bar-and-winch")
HEAT = ("radiator-core-blocked", "head-gasket")
#: part: (weak points that it raises, weak points that it lowers)
MOVES: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    **dict.fromkeys(AHEAD, (HEAT, ())),
    "stronger-fan-hub": ((), ("radiator-core-blocked", "fan-hub-weak", "head-gasket")),
    "front-locker-fitted": (("front-joint", "free-wheel-hub", "front-half-shaft"), ()),
    "newer-front-joints": ((), ("front-joint",)),
    "hub-strengthening-rings": ((), ("free-wheel-hub",)),
    "bigger-callipers": ((), ("brake-fade-tall-tyres",)),
    "thick-adjustable-tie-rod": (("steering-box-mount",), ("tie-rod-bent",)),
    "heavy-lower-arms": (("arm-bracket-crack",), ("lower-arm-bent",)),
    "heavy-rear-springs": (("spring-tower-crack",), ()),
    "air-helper-in-coil": (("spring-tower-crack",), ()),
    "tower-brace-in-tower": ((), ("spring-tower-crack", "chassis-crack")),
    "tower-cross-plate": ((), ("spring-tower-crack",)),
    "long-bump-stops": ((), ("front-damper", "rear-damper")),
    "uprated-torque-side-mount": ((), ("engine-mount-torque-side",)),
    "engine-tune": ((*HEAT, "clutch-worn", "rear-differential-gears", "rear-propshaft-joint"), ()),
    "turbo-kit": ((*HEAT, "clutch-worn", "rear-differential-gears", "rear-propshaft-joint"), ()),
}  # fmt: skip
#: part fitted, ratios of the vehicle's own figures, weak points that these raise
LOADS: dict[str, tuple[tuple[str, ...], dict[str, float], tuple[str, ...]]] = {
    "heavier": (
        (),
        {"mass": 1.2, "front_load": 1.15, "rear_load": 1.25},
        ("spring-tower-crack", "chassis-crack", "rear-spring", "rear-wheel-bearing", "rear-damper", "tyre-puncture"),
    ),
    "loaded roof": (("steel-roof-rack",), {"roof": 2.0}, ("roof-rack-mount", "rolled")),
}
FINDINGS = (
    "radiator-core-blocked",
    "water-pump-wear",
    "front-damper",
    "door-hinge",
    "seat-belt-webbing",
    "bump-stop-lost",
)


def fits(library: Library, build: str, part: str) -> bool:
    spec, has = library.modifications[part], set(library.archetypes[build].features)
    return set(spec.needs) <= has and not set(spec.without) & has


@pytest.fixture(scope="module")
def on(library: Library, rough: Rough) -> Callable[..., dict[str, float]]:
    """Expected failures by weak point of a build with parts on the rough road."""

    @cache
    def run(build: str, *parts: str) -> dict[str, float]:
        return {m: r.expected.value for (_, m), r in rough(*parts, build=build).by_key.items()}

    return run


@pytest.mark.parametrize("part", MOVES)
def test_a_part_moves_its_weak_points_on_every_build(
    library: Library, on: Callable[..., dict[str, float]], part: str
) -> None:
    raises, lowers = MOVES[part]
    seen = 0
    for build in library.archetypes:
        if not fits(library, build, part):
            continue
        plain, fitted = on(build), on(build, part)
        for mode in set(raises) & set(plain) & set(fitted):
            assert fitted[mode] > plain[mode], (build, mode)
            seen += 1
        for mode in set(lowers) & set(plain) & set(fitted):
            assert 0 < fitted[mode] < plain[mode], (build, mode)
            seen += 1
    assert seen >= 2


def test_all_items_ahead_of_the_radiator_raise_it_most(library: Library, on: Callable[..., dict[str, float]]) -> None:
    seen = 0
    for build in library.archetypes:
        parts = [p for p in AHEAD if fits(library, build, p)]
        if "radiator-core-blocked" in on(build) and len(parts) > 1:
            together = on(build, *parts)["radiator-core-blocked"]
            assert together > max(on(build, p)["radiator-core-blocked"] for p in parts), build
            seen += 1
    assert seen >= 6


@pytest.mark.parametrize(
    ("good", "bargain"), [("larger-radiator", "bargain-radiator"), ("good-water-pump", "bargain-water-pump")]
)
def test_a_bargain_part_never_beats_a_good_one(
    library: Library, on: Callable[..., dict[str, float]], good: str, bargain: str
) -> None:
    seen = 0
    for build in library.archetypes:
        if fits(library, build, good) and fits(library, build, bargain):
            better, worse = on(build, good), on(build, bargain)
            for mode in ("radiator-core-blocked", "radiator-leak", "water-pump-wear", "head-gasket"):
                if mode in better:
                    assert better[mode] <= worse[mode], (build, mode)
                    seen += better[mode] < worse[mode]
    assert seen >= 4


@pytest.mark.parametrize("load", LOADS)
def test_load_raises_what_carries_it_on_every_build(
    library: Library, rough: Rough, on: Callable[..., dict[str, float]], load: str
) -> None:
    parts, ratios, modes = LOADS[load]
    seen = 0
    for build in library.archetypes:
        if not all(fits(library, build, p) for p in parts):
            continue
        laden = {m: r.expected.value for (_, m), r in rough(*parts, build=build, ratios=ratios).by_key.items()}
        for mode in set(modes) & set(laden):
            assert laden[mode] > on(build, *parts)[mode], (build, mode)
            seen += 1
    assert seen >= 2


def test_taller_tyres_load_the_driveline_on_every_build(
    library: Library, rough: Rough, on: Callable[..., dict[str, float]]
) -> None:
    seen = 0
    for build in library.archetypes:
        tall = {m: r.expected.value for (_, m), r in rough(build=build, tyre=1.12).by_key.items()}
        for mode in {
            "front-joint",
            "free-wheel-hub",
            "rear-half-shaft",
            "rear-differential-gears",
            "brake-fade-tall-tyres",
        } & set(tall):
            assert tall[mode] > on(build)[mode], (build, mode)
            seen += 1
    assert seen >= 12


@pytest.mark.parametrize("mode", FINDINGS)
def test_what_was_found_worn_is_worse_than_what_was_found_sound(library: Library, rough: Rough, mode: str) -> None:
    seen = 0
    for build in library.archetypes:
        key = ("wagon", mode)
        if key in rough(build=build).by_key:
            worn, sound = (
                rough(build=build, findings=[(mode, w)]).by_key[key].expected.value for w in ("worn", "sound")
            )
            assert worn > sound, build
            seen += 1
    assert seen >= 3
