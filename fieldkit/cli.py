"""The command line: parse, read, call one function, print. It decides nothing."""

from __future__ import annotations

import atexit
import gc
import sys
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import Any

import click

FOLDER = click.Path(path_type=Path)


def _for_reader(text: str) -> str:
    """Lines broken between words where a person reads them in a terminal; one fault stays one line in a pipe or file."""
    if not sys.stderr.isatty():
        return text
    from shutil import get_terminal_size
    from textwrap import fill

    width = max(40, get_terminal_size().columns - 1)
    return "\n".join(fill(line, width, subsequent_indent="  ", break_on_hyphens=False) for line in text.splitlines())


def _told_plainly(command: Callable[..., Any]) -> Callable[..., Any]:
    """Errors meant for the user become their message and exit code; nothing else is caught."""

    @wraps(command)
    def run(*args: Any, **options: Any) -> Any:
        from fieldkit.errors import FieldkitError, InputFaults

        try:
            return command(*args, **options)
        except FieldkitError as odd:
            click.echo(_for_reader(str(odd)), err=True)
            if isinstance(odd, InputFaults):
                count = len(odd.faults)
                click.echo(f"\n{count} {'fault' if count == 1 else 'faults'}; nothing was written.", err=True)
            raise SystemExit(odd.exit_code) from None

    return run


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="fieldkit-overland", prog_name="fieldkit")
def cli() -> None:
    """Prepare ageing, laden off-road vehicles for places with no workshop and no signal.

    Start with `fieldkit demo`, then `fieldkit new FOLDER` and edit the files it writes.
    """


@cli.command()
@click.argument("folder", type=FOLDER)
@_told_plainly
def new(folder: Path) -> None:
    """Write a commented trip to edit into FOLDER."""
    from fieldkit.specs.scaffold import new_trip

    for path in new_trip(folder):
        click.echo(f"wrote {path}")
    click.echo(f"Edit these, then: fieldkit check {folder}")


@cli.command()
@click.argument("folder", type=FOLDER)
@_told_plainly
def check(folder: Path) -> None:
    """Read a trip and name every mistake in it."""
    from fieldkit.report import check_trip

    click.echo(check_trip(folder))


@cli.command()
@click.argument("folder", type=FOLDER)
@click.option("-o", "--out", type=FOLDER, help="Where the handbook goes (default: FOLDER/handbook).")
@click.option("--quick", is_flag=True, help="Coarser curve, no redraws, 10,000 trial runs.")
@click.option("--one-file", is_flag=True, help="Also write the whole handbook as one file to send.")
@click.option("--pdf", is_flag=True, help="Also print the sheets to PDF (needs an installed Chromium).")
@click.option("--need-fit", is_flag=True, help="Exit with 3 when a vehicle is not fit to leave.")
@click.option("--no-workshop", is_flag=True, help="As if no workshop hours and money were left.")
@click.option("--foresight", is_flag=True, help="Also tell what no kit gets below, were all failures known.")
@click.option("--seed", default=0, show_default=True, help="Seed of the trial runs.")
@_told_plainly
def plan(
    folder: Path,
    out: Path | None,
    quick: bool,
    one_file: bool,
    pdf: bool,
    need_fit: bool,
    no_workshop: bool,
    foresight: bool,
    seed: int,
) -> None:
    """Work out a trip: readiness, kit, loads, risks and the offline handbook."""
    from fieldkit.plan_options import PlanOptions
    from fieldkit.report import plan_trip

    if quick and foresight:
        raise click.UsageError("Give --quick or --foresight, not both.")
    with _progress() as step:
        out = out or folder / "handbook"
        how = PlanOptions(quick, seed, foresight)
        text = plan_trip(folder, out, how, one_file, pdf, need_fit, no_workshop, step)
    click.echo(text)


@cli.command()
@click.option("-o", "--out", type=FOLDER, default=Path("demo-handbook"), show_default=True)
@click.option("--solo", is_flag=True, help="The solo traveller instead of the convoy.")
@click.option("--quick", is_flag=True, help="Coarser curve, no redraws, 10,000 trial runs.")
@click.option("--one-file", is_flag=True, help="Also write the whole handbook as one file to send.")
@_told_plainly
def demo(out: Path, solo: bool, quick: bool, one_file: bool) -> None:
    """Make the handbook of the shipped example (an invented country)."""
    from fieldkit.plan_options import PlanOptions
    from fieldkit.report import example_folder, plan_trip

    with _progress() as step:
        text = plan_trip(example_folder(solo), out, PlanOptions(quick), one_file, False, False, False, step)
    click.echo(text)


@cli.command()
@click.argument("file", type=FOLDER)
@click.option("--json", "as_json", is_flag=True, help="Print every figure as JSON.")
@click.option("--line", help="Name of the track or route to take.")
@_told_plainly
def route(file: Path, as_json: bool, line: str | None) -> None:
    """Read a route file: lengths, climb, lines, and what is odd about it."""
    from fieldkit.report import route_report

    click.echo(route_report(file, line, as_json))


@cli.command()
@click.argument("folder", type=FOLDER)
@click.option("--json", "as_json", is_flag=True, help="Print every figure as JSON.")
@_told_plainly
def recovery(folder: Path, as_json: bool) -> None:
    """Pulls needed to free each vehicle of a trip, and rigs that give them."""
    from fieldkit.report import recovery_report

    click.echo(recovery_report(folder, as_json))


@cli.command()
@click.argument("trip", type=FOLDER, required=False)
@click.option("--build", help="Build to make blank forms for, such as live-axle-wagon-mechanical-diesel.")
@click.option(
    "--kind",
    type=click.Choice(["departure", "shakedown", "after-trip", "purchase"]),
    default="departure",
    show_default=True,
)
@click.option("--short", is_flag=True, help="Only the looks that tell most per minute.")
@click.option("--paper", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True)
@click.option("--pdf", is_flag=True, help="Also print to PDF (needs an installed Chromium).")
@click.option("-o", "--out", type=FOLDER, default=Path("forms"), show_default=True)
@_told_plainly
def forms(trip: Path | None, build: str | None, kind: str, short: bool, paper: str, pdf: bool, out: Path) -> None:
    """Inspection forms: blank for a build, or filled in for the vehicles of a TRIP."""
    from fieldkit.report import forms_report

    if (trip is None) == (build is None):
        raise click.UsageError("Give a TRIP folder, or --build for blank forms (one of the two).")
    with _bar("forms") as progress:
        said = forms_report(trip, build, out, kind, short, paper, pdf, progress)
    click.echo(said)


@cli.command()
@click.argument("folder", type=FOLDER)
@click.argument("files", type=FOLDER, nargs=-1)
@click.option("--keep-good-rows", is_flag=True, help="Bring in the rows without a fault and list the others.")
@click.option("-o", "--out", type=FOLDER, help="Write all findings by weak point to a table, such as all.csv.")
@_told_plainly
def findings(folder: Path, files: tuple[Path, ...], keep_good_rows: bool, out: Path | None) -> None:
    """Bring FILES (marks saved on phones, findings tables) back into the trip FOLDER.

    Nothing is written while any row has a fault, unless the good rows are kept. A file may be read again: nothing is
    counted twice. Without FILES, all findings of the trip are shown by weak point.
    """
    from fieldkit.report import findings_report, findings_table

    if files:
        click.echo(findings_report(folder, files, keep_good_rows))
    if out or not files:
        click.echo(findings_table(folder, out))


@cli.command()
@click.argument("first", type=FOLDER)
@click.argument("second", type=FOLDER)
@click.option("-o", "--out", type=FOLDER, help="Also write the comparison as a page, such as two-plans.html.")
@_told_plainly
def compare(first: Path, second: Path, out: Path | None) -> None:
    """Show two plans side by side: FIRST and SECOND are handbooks, or their plan.json.

    To see what the workshop day buys: plan the trip once as it is, once more
    with --no-workshop into another folder, and compare the two.
    """
    from fieldkit.report import compare_report

    click.echo(compare_report(first, second, out))


class _progress:
    """Names each step on the terminal while it runs; silent when the output is not a terminal."""

    def __enter__(self) -> Callable[[str], None]:
        self.shown = sys.stderr.isatty()
        return self.step

    def step(self, words: str) -> None:
        if self.shown:
            click.echo(f"\r\033[K{words} ...", nl=False, err=True)

    def __exit__(self, *_: object) -> None:
        if self.shown:
            click.echo("\r\033[K", nl=False, err=True)


class _bar:
    """How far a long command is, on the terminal while it runs; silent when the output is not a terminal."""

    def __init__(self, label: str) -> None:
        self.bar = click.progressbar(length=1000, label=label, file=sys.stderr, show_pos=False)

    def __enter__(self) -> Callable[[int, int], None]:
        self.shown = sys.stderr.isatty()
        if self.shown:
            self.bar.__enter__()
        return self.to

    def to(self, done: int, steps: int) -> None:
        if self.shown:
            self.bar.update(round(1000 * done / steps) - self.bar.pos)

    def __exit__(self, *odd: Any) -> None:
        if self.shown:
            self.bar.__exit__(*odd)


def main() -> None:
    """Entry point; output never fails for want of a sign in the terminal's character set. Garbage is not looked for once more at the end."""
    from fieldkit.garbage import look_seldom

    look_seldom()
    atexit.register(gc.freeze)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    cli(prog_name="fieldkit")


if __name__ == "__main__":
    main()
