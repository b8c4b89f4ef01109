"""The command's text: safety first, everything the plan holds, within 80 columns."""

from __future__ import annotations

from loaded_case import trip, vehicle

from fieldkit.loads import weigh
from fieldkit.recovery import as_text, plan_recovery

PARTS = ["winch-bar", "rated-recovery-points"]


def test_safety_and_order_stand_before_any_figure() -> None:
    whole = trip(vehicle(fitted=PARTS), on=["sand"])
    found = plan_recovery(whole, weigh(whole))
    text = as_text(found, whole)
    lines = text.splitlines()
    assert lines[0] == "FIRST"
    flat = " ".join(text.split())
    assert all(" ".join(s.split()) in flat.replace("- ", "") for s in found.safety)
    assert text.index("IN THIS ORDER") < text.index("WAGON, ") < text.index("Pull needed")
    assert "9. Kinetic rope last, three tries at most." in lines


def test_every_row_and_rig_of_the_plan_is_told() -> None:
    whole = trip(vehicle("one", fitted=PARTS), vehicle("two"), on=["sand", "rock"])
    found = plan_recovery(whole, weigh(whole))
    text = as_text(found, whole)
    for one in found.vehicles:
        for _, _, _, low, high, _ in one.table:
            assert f"{low:.0f} to {high:.0f} kg" in text
        for rig in one.rigs:
            assert f"pull {rig.pull_kgf:.0f} kg, with the sheaves {rig.total_kgf:.0f} kg" in text
            assert f"{rig.weakest} <- weakest" in text
    assert "soft sand, bogged to the sills" in text


def test_it_fits_a_terminal() -> None:
    whole = trip(vehicle("one", fitted=PARTS), vehicle("two"), on=["sand", "rock", "clay-wet"])
    text = as_text(plan_recovery(whole, weigh(whole)), whole)
    assert max(map(len, text.splitlines())) <= 80


def test_a_rig_that_does_not_fit_says_so() -> None:
    heavy = vehicle(fitted=PARTS, load=[{"name": "m", "mass": "780 kg", "x": "0.8 m", "z": "0.8 m"}])
    whole = trip(heavy, on=["salt-crust"])
    text = as_text(plan_recovery(whole, weigh(whole), {"snatch-block": 1, "bow-shackle": 1}), whole)
    assert "DOES NOT FIT" in text
    assert "Do not pull like this." in " ".join(text.split())
