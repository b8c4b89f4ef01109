"""Critical things of which there is one only, said so that a leader reads few lines."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from fieldkit.kit.explain import backups


def entry(item: str, vehicle: str, quantity: int = 1, hours: float = 5.0) -> Any:
    return SimpleNamespace(item=item, vehicle=vehicle, quantity=quantity, adds_hours=hours)


def case() -> Any:
    names = {"spanners": "combination spanners", "oil": "engine oil 5 L", "tape": "cloth tape", "foil": "silicone tape"}
    items = {
        key: SimpleNamespace(name=name, substitutes=("foil",) if key == "tape" else ()) for key, name in names.items()
    }
    return SimpleNamespace(
        settings=SimpleNamespace(show=SimpleNamespace(critical_hours=1.0)),
        trip=SimpleNamespace(
            library=SimpleNamespace(items=items), vehicle=lambda v: SimpleNamespace(name=v.capitalize())
        ),
    )


def test_what_nothing_stands_in_for_is_said_once_for_each_vehicle() -> None:
    """Two single things of one vehicle share a line; what has a stand-in has its own; two of a kind are not named."""
    items = [
        entry("spanners", "lantern", hours=9.0),
        entry("oil", "lantern", hours=3.0),
        entry("tape", "copper"),
        entry("foil", "sparrow", quantity=2),
    ]
    assert backups(case(), items, None) == (  # type: ignore[arg-type]
        "cloth tape, in Copper; could stand in: silicone tape in Sparrow",
        "in Lantern, and nothing aboard stands in: combination spanners, engine oil 5 L",
    )


def test_what_matters_little_is_not_named() -> None:
    assert backups(case(), [entry("oil", "lantern", hours=0.2)], None) == ()  # type: ignore[arg-type]
