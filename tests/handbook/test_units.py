"""H7: every figure with a unit stands in both systems, the trip's own first."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element

import pytest
from html_tools import main, pages, text
from sample import sample_plan, small_trip

from fieldkit.handbook import write_handbook
from fieldkit.handbook.other_units import in_both, sizes_in
from fieldkit.quantities import rounded

#: Worked by hand from 1 ft = 0.3048 m, 1 in = 25.4 mm, 1 mi = 1.609344 km, 1 lb = 0.45359237 kg, 1 US gal = 3.785412 L, 1 psi = 6.894757 kPa,
#: 1 lbf ft = 1.355818 Nm, 1 oz = 28.34952 g, 1 US fl oz = 29.57353 ml.
BY_HAND = [
    ("50 m", "160 ft"),  # 164.04
    ("100 m", "330 ft"),  # 328.08
    ("1 m", "3.3 ft"),  # 3.281; 3 ft would be 9 % short
    ("0.35 m", "1.15 ft"),  # 1.148
    ("30 cm", "12 in"),  # 11.81
    ("2 mm", "0.08 in"),  # 0.0787
    ("8 mm", "0.31 in"),  # 0.315: a gap, so not 0.3
    ("12 mm", "0.47 in"),  # 0.4724
    ("1 km", "0.6 mi"),  # 0.621
    ("10 km", "6 mi"),  # 6.21
    ("300 km", "190 mi"),  # 186.4
    ("6 km/h", "4 mph"),  # 3.73: speeds are read off in whole ones
    ("60 km/h", "37 mph"),  # 37.28; 40 would be too fast
    ("80 km/h", "50 mph"),  # 49.71
    ("20 L", "5 US gal"),  # 5.283
    ("7.5 L", "2 US gal"),  # 1.981
    ("50 ml", "1.7 US fl oz"),  # 1.691
    ("400 g", "14 oz"),  # 14.11
    ("0.4 kg", "0.9 lb"),  # 0.8818
    ("70 kg", "154 lb"),  # 154.3: a load, so not 150
    ("1300 kg", "2866 lb"),  # 2866.0: a limit, so not 2870
    ("3,931 kg", "8,670 lb"),  # 8666.4, within 0.05 %
    ("2 t", "4400 lb"),  # 4409
    ("240 kPa", "35 psi"),  # 34.81
    ("110 Nm", "81 lbf ft"),  # 81.13
    ("25 °C", "77 °F"),  # 25 * 9 / 5 + 32
    ("-2 °C", "28 °F"),  # 28.4
]


@pytest.mark.parametrize(("written", "other"), BY_HAND)
def test_a_figure_is_converted_to_its_own_precision(written: str, other: str) -> None:
    assert " ".join(rounded(*written.split(" "))) == other
    assert in_both(f"It is {written}.") == f"It is {written} ({other})."
    assert in_both(f"It is {written}.", imperial=True) == f"It is {other} ({written})."


@pytest.mark.parametrize("unit", ["m", "mm", "km", "km/h", "L", "kg", "kPa", "Nm"])
def test_no_conversion_is_far_off(unit: str) -> None:
    """Read back by the factor, every whole figure is within 6 %, or half a unit where whole ones are read off."""
    back = {
        "m": 0.3048, "mm": 25.4, "km": 1.609344, "km/h": 1.609344, "L": 3.785411784, "kg": 0.45359237,
        "kPa": 6.894757, "Nm": 1.355818,
    }[unit]  # fmt: skip
    for value in range(1, 2000, 7):
        said = float(rounded(str(value), unit)[0]) * back
        assert abs(said - value) <= max(0.06 * value, 0.51 * back if unit in ("km", "km/h", "kPa") and value > 4 else 0)


@pytest.mark.parametrize(
    ("plain", "both"),
    [
        ("300 to 500 km laden", "300 to 500 km (190 to 300 mi) laden"),
        ("10-15 mm", "10-15 mm (0.4-0.6 in)"),
        ("at 5, 20 and 50 km", "at 5, 20 and 50 km (3, 12 and 30 mi)"),
        ("1229 of 1300 kg", "1229 of 1300 kg (2710 of 2866 lb)"),
        ("day 2, km 275: camp", "day 2, km 275 (171 mi): camp"),
        ("km 385 to 440 (crust)", "km 385 to 440 (239 to 273 mi) (crust)"),
        ("within 50 m can be heard", "within 50 m (160 ft) can be heard"),
        ("<td>5 m</td>", "<td>5 m (16 ft)</td>"),
    ],
)
def test_ranges_lists_and_places_are_converted_whole(plain: str, both: str) -> None:
    assert in_both(plain) == both


@pytest.mark.parametrize(
    "kept",
    [
        "80 km/h (50 mph)",
        "50 mph (80 km/h)",
        "300 km (186 mi) to 500 km (311 mi)",
        "a 10 mm spanner, two 8 mm hex bolts",
        "0 kg left",
        "14 L/100km",
        "M6-8 mm",
        "km 0: the start",
        '<li title="5 m">x</li>',
        "<svg><text>50 km</text></svg>",
        '<a href="~repairs/x">after 5 km</a>',
        "Diesel can 20 L full",
        "the 1.5 kg hammer",
    ],
)
def test_names_sizes_drawings_and_what_has_both_stay(kept: str) -> None:
    assert in_both(kept, sizes=sizes_in(["diesel can 20 L full", "1.5 kg hammer"])) == kept


def test_a_size_in_a_name_spares_no_figure_elsewhere() -> None:
    sizes = sizes_in(["2 m chain", "tape 50 m"])
    assert in_both("Drag the 2 m chain 12 m; stop after 2 m, keep 50 m away.", sizes=sizes) == (
        "Drag the 2 m chain 12 m (40 ft); stop after 2 m (6.6 ft), keep 50 m (160 ft) away."
    )


def test_what_the_plan_says_in_metric_first_is_turned_round() -> None:
    assert in_both("at most 60 km/h (37 mph): damper", imperial=True) == "at most 37 mph (60 km/h): damper"
    assert in_both("km 275: camp", imperial=True) == "mile 171 (km 275): camp"


# ------------------------------------------------------------------------------------------ whole pages
_METRIC = re.compile(r"(?<![\w.,×])(\d+(?:[,.]\d+)*) (km/h|kPa|Nm|kg|km|mm|cm|°C|m|L)(?![\w/])")
_WITH_OTHER = re.compile(r"^ \([\d.,]+(?: (?:to|of|and|or) [\d.,]+)? (?:lbf ft|US gal|psi|mph|mi|ft|in|lb|°F)\)")


def _said(element: Element) -> str:
    """The words that are neither in a drawing nor a title nor a link."""
    if element.tag.rpartition("}")[2] in ("svg", "h1", "h2", "a", "caption", "script", "button"):
        return " ; "
    inside = "".join(_said(child) + (child.tail or "") for child in element)
    return (element.text or "") + inside


def _alone(said: str, names: list[str]) -> list[str]:
    for name in names:
        said = re.sub(re.escape(name), "", said, flags=re.I)
    return [
        said[max(0, m.start() - 30) : m.end() + 20]
        for m in _METRIC.finditer(said)
        if re.search("[1-9]", m[1]) and not _WITH_OTHER.match(said[m.end() :])
    ]


def test_every_page_says_its_figures_in_both_systems(built: Path, facts: Any) -> None:
    names = sorted((i.name for i in facts.library.items.values()), key=len, reverse=True)
    paths = [p for p in pages(built) if p.parent.name != "print" and not p.name.endswith("-handbook.html")]
    assert len(paths) > 30
    lone = {p.name: found for p in paths if (found := _alone(_said(main(p)), names))}
    assert lone == {}


def test_a_trip_that_counts_in_the_other_system_shows_it_first(tmp_path: Path) -> None:
    trip = small_trip()
    head = trip.head.model_copy(update={"units": "imperial"})
    write_handbook(sample_plan(replace(trip, head=head)), tmp_path / "out")
    repair = text(main(tmp_path / "out" / "repairs" / "plug-a-tread-puncture.html"))
    assert "35 psi (240 kPa)" in repair and "240 kPa (" not in repair
    assert "0.8 in (20 mm) below the neck" in text(main(tmp_path / "out" / "repairs" / "replace-a-coolant-hose.html"))
    for path in pages(tmp_path / "out"):
        if path.parent.name != "print":
            assert not re.search(
                r"\d (?:km/h|kPa|kg|km|m|L) \([\d.,]+ (?:mph|psi|lb|mi|ft|US gal)\)", _said(main(path))
            ), path
