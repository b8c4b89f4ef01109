"""Every fault of a trip folder is named with its place; all of them in one run; nothing else is said."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from fieldkit.errors import InputFaults
from fieldkit.specs.library import Library
from fieldkit.specs.read_trip import load_trip
from fieldkit.specs.trip_tables import quantity_cell

Spoil = Callable[[str, str, str], Path]


def faults_of(folder: Path, library: Library) -> list[str]:
    with pytest.raises(InputFaults) as caught:
        load_trip(folder, library)
    return [str(f) for f in caught.value.faults]


CHANGES = [
    ("trip.toml", "start = 2027-09-06", "strat = 2027-09-06", "unknown key 'strat'"),
    ("trip.toml", "start = 2027-09-06", "strat = 2027-09-06", "did you mean 'start'?"),
    ("trip.toml", "start = 2027-09-06", "strat = 2027-09-06", "key 'start' is missing"),
    ("trip.toml", "people = 2", "people = 0", "party.people is 0"),
    ("trip.toml", 'kit_mass = "90 kg"', "kit_mass = 90", "90 has no unit; write it like \"85 kg\""),
    ("trip.toml", 'kit_mass = "90 kg"', 'kit_mass = "-3 kg"', "'-3 kg' is not a possible mass"),
    ("trip.toml", 'kit_mass = "90 kg"', 'kit_mass = "90 litres"', "'90 litres' is not a mass"),
    ("trip.toml", 'kit_mass = "90 kg"', 'kit_mass = "9,5 kg"', "has a comma"),
    ("trip.toml", 'surface = "gravel"', 'surface = "grawel"', "unknown surface 'grawel'"),
    ("trip.toml", 'to = "Crossroads store"', 'to = "Crosroads store"', "did you mean 'Crossroads store'?"),
    ("trip.toml", 'spec = "vehicles/wagon.toml"', 'spec = "vehicles/waggon.toml"', "unknown vehicle file"),
    ("trip.toml", 'carried = ["satellite-messenger"', 'carried = ["satelite-messenger"', "did you mean 'satellite-messenger'?"),
    ("trip.toml", "prepared = 2027-07-26", "prepared = 2028-07-26", "prepared 2028-07-26 lies after start"),
    ("trip.toml", 'km = "0 km"\nfuels', 'at = [95.0, 10.0]\nkm = "0 km"\nfuels', "latitude 95, longitude 10 is not on earth"),
    ("trip.toml", "crew = 2", "crew = 3", "3 people sit in the vehicles"),
    ("legs.csv", "4,440,520,gravel", "4,450,520,gravel", "starts at 450 km, the leg before ends at 440 km"),
    ("legs.csv", "4,440,520,gravel", "4,440,430,gravel", "from 440 to 430 km; expected to_km beyond from_km"),
    ("legs.csv", "1,0,80,sealed", "1,0,x,sealed", "'x' is not a number"),
    ("legs.csv", "1,0,80,sealed", "1,0,80,sealled", "did you mean 'sealed'?"),
    ("findings.csv", "drive-belt,,worn", "drive-belt,,wron", "did you mean 'worn'?"),
    ("findings.csv", "2027-07-20,wagon,drive-belt", "20/07/27,wagon,drive-belt", "has a year of two digits"),
    ("findings.csv", "2027-07-20,wagon,drive-belt", "02/01/2027,wagon,drive-belt", "2 January or as 1 February"),
    ("findings.csv", "2027-07-20,wagon,drive-belt", "2027-07-20,wagn,drive-belt", "did you mean 'wagon'?"),
    ("findings.csv", "drive-belt,,worn", "air-spring-leak,,worn", "which has no such part"),
    ("inventory.csv", "bottle-jack,1", "bottle-jak,1", "did you mean 'bottle-jack'?"),
    ("inventory.csv", "bottle-jack,1", "bottle-jack,-1", "-1 is not possible"),
    ("vehicles/wagon.toml", "live-axle-wagon-mechanical-diesel", "live-axle-wagon-mechanical-desel", "did you mean 'live-axle-wagon-mechanical-diesel'?"),
    ("vehicles/wagon.toml", "sealed = 0.7", "sealed = 0.6", "usual shares add to 0.9"),
    ("vehicles/wagon.toml", 'rear = "1130 kg"', "", "a ticket without both axles"),
    ("vehicles/wagon.toml", 'place = "load-floor"', 'place = "load-flor"', "did you mean 'load-floor'?"),
    ("vehicles/wagon.toml", 'front = "220 kPa"', 'front = "240 psi"', "'240 psi' is not a possible pressure"),
]  # fmt: skip


@pytest.mark.parametrize(("file", "old", "new", "said"), CHANGES)
def test_a_spoiled_trip_says_what_and_where(
    spoil: Spoil, library: Library, file: str, old: str, new: str, said: str
) -> None:
    """One change to a sound trip gives a message that names the file, a line, and the matter."""
    folder = spoil(file, old, new)
    messages = faults_of(folder, library)
    hits = [m for m in messages if said in m]
    assert hits, messages
    assert any(m.startswith(file) for m in hits) or said.endswith("vehicles"), hits
    assert all("Traceback" not in m and "validation error" not in m for m in messages)


def test_the_blank_trip_is_sound(blank: Path, library: Library) -> None:
    """What ``new`` writes reads without a fault."""
    assert load_trip(blank, library).head.days == 4


def test_faults_of_all_files_come_in_one_run(spoil: Spoil, library: Library) -> None:
    """Mistakes in four files give at least four messages, each with its own file."""
    spoil("trip.toml", "days = 4", 'days = "four"')
    spoil("legs.csv", "1,0,80,sealed", "1,0,80,ice")
    spoil("inventory.csv", "socket-set", "soket-set")
    folder = spoil("vehicles/wagon.toml", "[identity]", "[idenity]")
    files = {m.split(":")[0] for m in faults_of(folder, library)}
    assert {"trip.toml", "legs.csv", "inventory.csv", "vehicles/wagon.toml"} <= files


def test_a_byte_order_mark_is_no_fault(blank: Path, library: Library) -> None:
    """s08: the first column of a file saved with a byte-order mark is found."""
    (blank / "inventory.csv").write_bytes(b"\xef\xbb\xbfitem,quantity\r\nsocket-set,1\r\n")
    assert load_trip(blank, library).inventory[0].item == "socket-set"


def test_blanks_round_headings_and_values_are_trimmed(blank: Path, library: Library) -> None:
    """s11: headings and values are read as if trimmed."""
    (blank / "inventory.csv").write_text("item ,quantity , owner\nsocket-set , 1 , me \n", encoding="utf-8")
    stock = load_trip(blank, library).inventory[0]
    assert (stock.item, stock.quantity, stock.owner) == ("socket-set", 1, "me")


def test_a_column_that_stands_twice_is_refused(blank: Path, library: Library) -> None:
    """s10: neither of two columns of one name is taken."""
    (blank / "inventory.csv").write_text("item,quantity,owner,quantity\nsocket-set,4,me,1\n", encoding="utf-8")
    assert faults_of(blank, library) == [
        "inventory.csv:1: column 'quantity' stands 2 times (columns 2 and 4); expected each column once"
    ]


def test_semicolons_are_told_apart(blank: Path, library: Library) -> None:
    """s07: a file separated by semicolons is refused by name, never read as one column."""
    (blank / "inventory.csv").write_text("item;quantity\nsocket-set;0,85\n", encoding="utf-8")
    assert "columns are separated by a semicolon" in faults_of(blank, library)[0]


def test_two_readings_of_dates_are_all_in_one_message(blank: Path, library: Library) -> None:
    """s09: ambiguous, non-ISO and two-digit dates are all reported, with their rows."""
    (blank / "inventory.csv").write_text(
        "item,quantity,good_until\nbrake-fluid,1,02/01/2027\nfirst-aid-kit,1,31/12/2026\nextinguisher-2kg,1,5/11/27\n",
        encoding="utf-8",
    )
    messages = faults_of(blank, library)
    assert [m.split(":")[1].split()[0] for m in messages] == ["2", "3", "4"]
    assert "2 January or as 1 February" in messages[0]
    assert "two digits" in messages[2]


def test_a_backslash_in_double_quotes_is_explained(blank: Path, library: Library) -> None:
    """s12: the tool stops at line 2 and says how to write the path."""
    (blank / "trip.toml").write_text(
        'title = "Dust wagon"\nroute = "C:\\Users\\someone\\north.gpx"\n', encoding="utf-8"
    )
    assert faults_of(blank, library) == [
        "trip.toml:2: a backslash in double quotes is special in TOML; expected single quotes round the text, or / instead of \\"
    ]


def test_a_table_that_stands_twice_is_named_with_both_lines(blank: Path, library: Library) -> None:
    """s13: nothing falls back to defaults."""
    (blank / "vehicles" / "wagon.toml").write_text(
        'name = "Dust wagon"\n\n[age]\nyears = 3\n\n[age]\nodometer = "60 km"\n', encoding="utf-8"
    )
    assert "table 'age' stands twice (lines 3 and 6)" in faults_of(blank, library)[0]


def test_three_mistakes_at_once(blank: Path, library: Library) -> None:
    """s25: the TOML fault first; once mended, the other three in one run."""
    path = blank / "vehicles" / "wagon.toml"
    text = 'name = "Dust wagon"\nbased_onn = "unibody-all-wheel-drive"\nwater = "60"\nshakedown = "2,4 km"\nbuilt = 31/12/1998\n'
    path.write_text(text, encoding="utf-8")
    assert [m.split(": ")[0] for m in faults_of(blank, library)] == ["vehicles/wagon.toml:5"]
    path.write_text(text.replace("built = 31/12/1998\n", ""), encoding="utf-8")
    messages = faults_of(blank, library)
    assert any(
        m.startswith("vehicles/wagon.toml:2: unknown key 'based_onn'") and "did you mean 'based_on'?" in m
        for m in messages
    )
    assert any(m.startswith("vehicles/wagon.toml:3") and "has no unit" in m for m in messages)
    assert any(m.startswith("vehicles/wagon.toml:4") and "comma" in m for m in messages)


@pytest.mark.parametrize("content", [b"", b"   \n", b"\xff\xfe\x00x"])
def test_empty_and_binary_files_are_refused(blank: Path, library: Library, content: bytes) -> None:
    """An empty file or one that is not text gives one message."""
    (blank / "trip.toml").write_bytes(content)
    assert len([m for m in faults_of(blank, library) if m.startswith("trip.toml")]) == 1


def test_a_pressure_needs_its_unit() -> None:
    """s23: no unit and an impossible pressure are refused; psi and bar are read."""
    assert "has no unit" in str(quantity_cell("240", "pressure", "p.csv:2")[1][0])
    assert quantity_cell("35 psi", "pressure", "p.csv:3")[0] == pytest.approx(241.3, abs=0.05)
    assert quantity_cell("2.4 bar", "pressure", "p.csv:4")[0] == pytest.approx(240.0)
    assert "not a possible pressure" in str(quantity_cell("240 psi", "pressure", "p.csv:5")[1][0])


def test_a_route_with_nothing_to_read_is_refused(blank: Path, library: Library) -> None:
    """A trip without any line or leg table says so."""
    (blank / "legs.csv").unlink()
    assert "no route" in faults_of(blank, library)[0]
