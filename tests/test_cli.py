"""Commands as people run them: exit codes, plain messages, nothing half written, any terminal."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from fieldkit.cli import cli

ROOT = Path(__file__).parent.parent
Spoil = Callable[[str, str, str], Path]


@pytest.fixture
def runner() -> CliRunner:
    return CliRunner()


def run(*words: str, **env: str) -> subprocess.CompletedProcess[bytes]:
    """A command in a process of its own, output to pipes."""
    return subprocess.run(
        [sys.executable, "-m", "fieldkit.cli", *words], capture_output=True, env={**os.environ, **env}, cwd=ROOT
    )


def test_help_names_every_command(runner: CliRunner) -> None:
    result = runner.invoke(cli, ["--help"])
    assert result.exit_code == 0
    for name in ("new", "check", "plan", "demo", "route", "forms", "findings", "recovery", "compare"):
        assert f"  {name} " in result.output


def test_help_loads_nothing_heavy() -> None:
    """``fieldkit --help`` stays near a bare click program's start: none of these may be imported."""
    code = (
        "import sys; sys.argv = ['fieldkit', '--help']\n"
        "from fieldkit.cli import main\n"
        "try: main()\nexcept SystemExit: pass\n"
        "print([m for m in ('numpy','pandas','scipy','networkx','pint','pydantic','jinja2','markdown','pyproj','highspy','ortools') if m in sys.modules])"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.splitlines()[-1] == "[]"


def test_new_check_and_plan_pass_as_written(runner: CliRunner, tmp_path: Path) -> None:
    """What ``new`` writes passes ``check`` and ``plan`` as it stands."""
    folder = str(tmp_path / "trip")
    for words in (["new", folder], ["check", folder], ["plan", folder, "--quick"]):
        result = runner.invoke(cli, words)
        assert result.exit_code == 0, result.output
    assert (tmp_path / "trip" / "handbook" / "index.html").is_file()
    assert json.loads((tmp_path / "trip" / "handbook" / "plan.json").read_text(encoding="utf-8"))["format"] == 1


def test_check_adds_up_what_edited_lives_mean(runner: CliRunner, blank: Path) -> None:
    """The sum of expected failures, by vehicle, so that guesses that each look right are seen to add up too high."""

    def sums() -> tuple[int, float, float]:
        result = runner.invoke(cli, ["check", str(blank)])
        assert result.exit_code == 0, result.output
        rows = [line.split() for line in result.output.splitlines()]
        row = next(r for n, r in enumerate(rows) if n and rows[n - 1][:2] == ["vehicle", "weak"])
        return int(row[-3]), float(row[-2]), float(row[-1])

    points, failures, disabling = sums()
    overlay = blank / "library" / "failure_modes"
    overlay.mkdir(parents=True)
    shipped = (ROOT / "vehicle_specs" / "failure_modes" / "suspension.toml").read_text(encoding="utf-8")
    shorter = re.sub(r'(?m)^life = "(\d+) km"', lambda m: f'life = "{int(m[1]) // 20} km"', shipped)
    (overlay / "suspension.toml").write_text(shorter, encoding="utf-8")
    more_points, more, more_disabling = sums()
    assert more_points == points > 50
    assert more > failures + 0.05
    assert more_disabling > disabling > 0


def test_the_one_file_is_named_with_its_size(runner: CliRunner, blank: Path, tmp_path: Path) -> None:
    """s24: whoever sends it sees how large it is."""
    out = tmp_path / "out"
    result = runner.invoke(cli, ["plan", str(blank), "--quick", "--one-file", "-o", str(out)])
    assert result.exit_code == 0, result.output
    said = re.search(r"Or send (\S+) \((\d+\.\d) MB\)", result.output)
    assert said
    assert Path(said[1]).stat().st_size == pytest.approx(float(said[2]) * 1e6, abs=6e4)


def test_new_leaves_a_full_folder_alone(runner: CliRunner, tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    result = runner.invoke(cli, ["new", str(tmp_path)])
    assert result.exit_code == 1
    assert "not empty" in result.output
    assert [p.name for p in tmp_path.iterdir()] == ["mine.txt"]


def test_a_fault_leaves_an_earlier_handbook_untouched(runner: CliRunner, spoil: Spoil, blank: Path) -> None:
    """Exit code 1, the fault with its place, and the handbook of before, to the byte."""
    assert runner.invoke(cli, ["plan", str(blank), "--quick"]).exit_code == 0
    before = {p: p.read_bytes() for p in (blank / "handbook").rglob("*") if p.is_file()}
    spoil("legs.csv", "1,0,80,sealed", "1,0,80,ice")
    result = runner.invoke(cli, ["plan", str(blank), "--quick"])
    assert result.exit_code == 1
    assert "legs.csv:2 surface: unknown surface 'ice'" in result.output
    assert "Traceback" not in result.output
    assert {p: p.read_bytes() for p in (blank / "handbook").rglob("*") if p.is_file()} == before


def test_a_folder_of_somebody_else_is_never_overwritten(runner: CliRunner, blank: Path, tmp_path: Path) -> None:
    other = tmp_path / "photos"
    other.mkdir()
    (other / "index.html").write_text("mine", encoding="utf-8")
    result = runner.invoke(cli, ["plan", str(blank), "--quick", "-o", str(other)])
    assert result.exit_code == 1
    assert [p.name for p in other.iterdir()] == ["index.html"]


def test_a_kit_that_cannot_be_says_which_limit(runner: CliRunner, spoil: Spoil) -> None:
    """s22: must-carry things beyond what the vehicle can take: the limit, by how much, the heaviest causes."""
    folder = spoil("vehicles/wagon.toml", 'mass = "110 kg"', 'mass = "900 kg"')
    result = runner.invoke(cli, ["plan", str(folder), "--quick"])
    assert result.exit_code == 1
    assert re.search(r"What must be carried weighs \d+ kg, \d+ kg more than the vehicles can still take", result.output)
    assert "bags, food and camping things 900 kg" in result.output
    assert re.search(r"Leave at least \d{3} kg of other loads at home", result.output)
    assert not (folder / "handbook").exists()


def test_wrong_usage_exits_with_two(runner: CliRunner) -> None:
    assert runner.invoke(cli, ["forms"]).exit_code == 2
    assert runner.invoke(cli, ["plan"]).exit_code == 2
    assert runner.invoke(cli, ["nonsense"]).exit_code == 2


def test_an_unfit_vehicle_exits_with_three_only_when_asked(runner: CliRunner, spoil: Spoil) -> None:
    line = "2027-07-20,wagon,drive-belt,,worn"
    spoil("findings.csv", line, f"2027-07-20,wagon,steering-arm,,defective,,a mechanic,cracked\n{line}")
    folder = spoil("trip.toml", 'workshop_hours = "16 h"', 'workshop_hours = "0 h"')
    assert runner.invoke(cli, ["plan", str(folder), "--quick"]).exit_code == 0
    result = runner.invoke(cli, ["plan", str(folder), "--quick", "--need-fit"])
    assert result.exit_code == 3
    assert "Not fit to leave: wagon." in result.output


@pytest.mark.parametrize(
    "words",
    [["check", "TRIP"], ["plan", "TRIP", "--quick"], ["recovery", "TRIP"], ["recovery", "TRIP", "--json"], ["forms", "TRIP", "-o", "OUT"], ["forms", "--build", "unibody-all-wheel-drive", "-o", "OUT"]],
)  # fmt: skip
def test_a_narrow_terminal_breaks_no_command(spoil: Spoil, tmp_path: Path, words: list[str]) -> None:
    """s18: names outside the terminal's character set, output to a pipe; files stay UTF-8."""
    folder = spoil("vehicles/wagon.toml", 'name = "My wagon"', 'name = "Žluťoučký 車 wagon"')
    spoil("trip.toml", 'title = "My trip"', 'title = "Пустыня 沙漠"')
    swapped = [{"TRIP": str(folder), "OUT": str(tmp_path / "out")}.get(w, w) for w in words]
    result = run(*swapped, PYTHONIOENCODING="cp1252", PYTHONUTF8="0")
    assert result.returncode == 0, result.stderr.decode(errors="replace")
    assert b"Error" not in result.stderr
    pages = [*folder.rglob("*.html"), *(tmp_path / "out").rglob("*.html")]
    for page in pages:
        page.read_text(encoding="utf-8")


def test_same_input_same_bytes(blank: Path, tmp_path: Path) -> None:
    """Two runs into different folders, in processes of their own with other hash seeds, give the same files."""
    outs = []
    for seed in ("1", "2"):
        out = tmp_path / f"out-{seed}"
        result = run("plan", str(blank), "--quick", "-o", str(out), PYTHONHASHSEED=seed)
        assert result.returncode == 0, result.stderr.decode()
        outs.append({p.relative_to(out).as_posix(): p.read_bytes() for p in sorted(out.rglob("*")) if p.is_file()})
    assert outs[0].keys() == outs[1].keys()
    assert [n for n in outs[0] if outs[0][n] != outs[1][n]] == []


def test_route_keeps_to_80_columns(runner: CliRunner, tmp_path: Path) -> None:
    """Long names and long notes run on indented; no line is wider than the narrowest usual terminal."""
    points = "".join(f'<trkpt lat="{50 + i / 1000}" lon="8.0"/>' for i in range(3))
    tracks = "".join(
        f"<trk><name>{'A long name of a track ' * 6}{i}</name><trkseg>{points}</trkseg></trk>" for i in range(6)
    )
    (tmp_path / "many.gpx").write_text(f'<gpx version="1.1" creator="x">{tracks}</gpx>', encoding="utf-8")
    result = runner.invoke(cli, ["route", str(tmp_path / "many.gpx")])
    assert result.exit_code == 0, result.output
    assert "note: " in result.output
    assert max(map(len, result.output.splitlines())) <= 80
