"""The built folder as a whole: links, ids, headings, policy, hostile text, same bytes, safe output."""

from __future__ import annotations

import posixpath
import re
from copy import copy
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from urllib.parse import unquote

import pytest
from html_tools import links, main, pages, parse_errors, text, tree

from fieldkit.beside import Beside
from fieldkit.errors import OutputRefused
from fieldkit.handbook import render, write_handbook
from fieldkit.handbook.facts import Facts
from fieldkit.handbook.site import MARKER, Writer, built_beside, repairs_that_spare_most
from fieldkit.kit.result import Cover

HERE = Path(__file__).parent


def test_every_page_parses_without_error(built: Path) -> None:
    """H50, first part: no parse error on any page."""
    assert {p.name: parse_errors(p) for p in pages(built) if parse_errors(p)} == {}


def test_every_link_has_a_file_and_a_place_in_it(built: Path) -> None:
    """H53: relative, with the full file name; fragments exist."""
    ids = {p: {e.get("id") for e in tree(p).iter() if e.get("id")} for p in pages(built)}
    for path in pages(built):
        for href in links(tree(path)):
            assert not re.match(r"[a-z]+:|//|/", href), f"{path}: {href}"
            file, _, fragment = href.partition("#")
            target = Path(posixpath.normpath((path.parent / unquote(file)).as_posix())) if file else path
            assert target in ids, f"{path.relative_to(built)}: {href}"
            assert not fragment or fragment in ids[target], f"{path.relative_to(built)}: {href}"


def test_ids_are_unique_on_every_page(built: Path) -> None:
    """H57: also where pages are joined."""
    for path in pages(built):
        found = [e.get("id") for e in tree(path).iter() if e.get("id")]
        assert len(found) == len(set(found)), path


def test_joined_files_link_only_within_themselves(built: Path) -> None:
    """H57, H60."""
    joined = [p for p in (built / "print").glob("*.html") if p.name != "index.html"]
    for path in [*joined, built / "trip-handbook.html"]:
        assert all(href.startswith("#") for href in links(tree(path))), path


def test_nothing_is_fetched_from_outside(built: Path) -> None:
    """H52, H65: no address in any attribute or style, no module, worker or font."""
    for path in sorted(built.rglob("*")):
        if path.suffix not in (".html", ".css", ".js"):
            continue
        content = path.read_text(encoding="utf-8")
        assert not re.search(r"""(?:src|href)\s*=\s*["']?(?:https?:)?//""", content), path
        assert not re.search(
            r"url\(|@import|@font-face|fetch\(|XMLHttpRequest|new Worker|serviceWorker|sourceMappingURL", content
        ), path
        assert 'type="module"' not in content, path


def test_no_inline_handler_and_a_policy_on_every_page(built: Path) -> None:
    for path in pages(built):
        root = tree(path)
        assert not [a for e in root.iter() for a in e.attrib if a.startswith("on")], path
        policy = [e.get("content", "") for e in root.iter("meta") if e.get("http-equiv") == "Content-Security-Policy"]
        assert len(policy) == 1, path
        assert "default-src 'none'" in policy[0]
        assert "unsafe" not in policy[0]
        assert not [e for e in root.iter() if e.get("style") is not None], path


def test_headings_start_at_one_and_skip_no_level(built: Path) -> None:
    """H45: one h1, no skipped level, a language, a title of its own."""
    titles: dict[str, Path] = {}
    for path in pages(built):
        root = tree(path)
        assert root.get("lang") == "en"
        levels = [int(e.tag[1]) for e in root.iter() if re.fullmatch(r"h[1-6]", str(e.tag))]
        assert levels.count(1) == 1, path
        assert levels[0] == 1, path
        assert all(b <= a + 1 for a, b in pairwise(levels)), path
        title = text(next(root.iter("title")))
        assert title not in titles, f"{path} and {titles.get(title)}"
        titles[title] = path


def test_tables_have_captions_and_scopes(built: Path) -> None:
    """H45."""
    for path in pages(built):
        for table in tree(path).iter("table"):
            assert table.find("caption") is not None, path
            assert all(th.get("scope") in ("col", "row", "rowgroup") for th in table.iter("th")), path


def test_hostile_names_and_notes_are_text(built: Path) -> None:
    """Text from members' files can't make an element: title, names and notes hold tags in the test trip."""
    for path in pages(built):
        content = path.read_text(encoding="utf-8")
        assert "<script>alert" not in content, path
        assert "<i>Co</i>" not in content, path
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in (built / "vehicles/tern/index.html").read_text(encoding="utf-8")
    assert "Test loop <b>of two</b> vehicles" in text(main(built / "index.html"))


def test_private_data_only_in_the_leaders_copy(plan: Any, built: Path, tmp_path: Path) -> None:
    """The shared copy holds none of it, in any file; the leader's copy does."""
    for path in built.rglob("*"):
        if path.is_file():
            assert b"SECRET-" not in path.read_bytes(), path
    leader = copy(plan)
    leader.trip = replace(plan.trip, head=plan.trip.head.model_copy(update={"private": True}))
    out = tmp_path / "leader"
    write_handbook(leader, out)
    page = text(main(out / "trip" / "leader.html"))
    assert "SECRET-MEDICINE twice a day" in page
    assert "SECRET-KIN" in page


def test_same_plan_same_bytes(plan: Any, built: Path, tmp_path: Path) -> None:
    """H67: also where an earlier run in the same process left bodies of pages behind, of this plan or of another."""
    again, other = tmp_path / "again", tmp_path / "other"
    first = {p.relative_to(built).as_posix(): p.read_bytes() for p in built.rglob("*") if p.is_file()}
    library = plan.trip.library
    key, procedure = next(iter(sorted(library.procedures.items())))
    sections = {**procedure.sections, "Check": "Look at it once more from below.\n"}
    changed = {**library.procedures, key: replace(procedure, sections=sections)}
    next_plan = copy(plan)
    next_plan.trip = replace(plan.trip, library=replace(library, procedures=changed))
    write_handbook(next_plan, other)
    assert "once more from below" in (other / "repairs" / f"{key}.html").read_text(encoding="utf-8")
    for forget in (False, True):
        if forget:
            render._LAST.clear()
        write_handbook(plan, again, one_file=True)
        second = {p.relative_to(again).as_posix(): p.read_bytes() for p in again.rglob("*") if p.is_file()}
        assert first == second


def test_golden_tree(built: Path) -> None:
    """Regression: the set of files that this plan's handbook is made of (tests/handbook/golden-tree.txt)."""
    found = sorted(p.relative_to(built).as_posix() for p in built.rglob("*") if p.is_file())
    golden = HERE / "golden-tree.txt"
    assert found == golden.read_text(encoding="utf-8").split("\n")[:-1]


def test_first_page_is_light(built: Path) -> None:
    """First page with its style and script under 100 kB."""
    assert sum((built / n).stat().st_size for n in ("index.html", "handbook.css", "handbook.js")) < 100_000


def test_emergencies_are_one_tap_from_the_first_page(built: Path) -> None:
    """H36: every emergency page is linked from the first page, by what is seen."""
    linked = set(links(tree(built / "index.html")))
    for page in (built / "emergency").glob("*.html"):
        assert f"emergency/{page.name}" in linked, page


# ----------------------------------------------------------------------------------------- safe output
def test_a_foreign_folder_is_refused_and_left_alone(plan: Any, tmp_path: Path) -> None:
    out = tmp_path / "mine"
    out.mkdir()
    (out / "thesis.txt").write_text("years of work")
    with pytest.raises(OutputRefused, match="holds something that this tool did not make"):
        write_handbook(plan, out)
    assert [p.name for p in tmp_path.iterdir()] == ["mine"]
    assert [p.name for p in out.iterdir()] == ["thesis.txt"]


def test_a_file_of_that_name_is_refused(plan: Any, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(OutputRefused, match="is not a folder"):
        write_handbook(plan, tmp_path / "file")


def test_a_failure_leaves_the_earlier_handbook(plan: Any, tmp_path: Path) -> None:
    out = tmp_path / "out"
    write_handbook(plan, out)
    before = (out / "index.html").read_bytes()

    def fail(_: Path) -> None:
        raise RuntimeError("the caller's own files failed")

    with pytest.raises(RuntimeError, match="own files"):
        write_handbook(plan, out, extra=fail)
    assert (out / "index.html").read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_an_own_folder_is_replaced_whole_and_extra_files_are_kept_in_it(plan: Any, tmp_path: Path) -> None:
    out = tmp_path / "out"
    write_handbook(plan, out)
    (out / "old.html").write_text("stale")
    written = write_handbook(plan, out, extra=lambda fresh: (fresh / "plan.json").write_text("{}"))
    assert not (out / "old.html").exists()
    assert out / "plan.json" in written
    assert (out / MARKER).is_file()
    assert all(p.is_file() for p in written)


def test_the_writer_writes_no_path_twice_and_none_outside(tmp_path: Path) -> None:
    with built_beside(tmp_path / "out") as fresh:
        writer = Writer(fresh)
        writer.write("a/b.html", "x")
        for name in ("a/b.html", "../c.html", "/d.html", "a/../../e.html"):
            with pytest.raises(ValueError, match="written twice, or outside"):
                writer.write(name, "y")
    assert (tmp_path / "out/a/b.html").read_text() == "x"


def test_a_handbook_is_the_same_with_a_second_process(plan: Any, tmp_path: Path) -> None:
    """Repairs' pages made, and all pages written, by the other process: every file to the byte, nothing left beside."""
    alone, both = tmp_path / "alone", tmp_path / "both"
    write_handbook(plan, alone)
    with Beside(second=True) as beside:
        beside.get_ready("fieldkit.handbook")
        write_handbook(plan, both, beside=beside)
    files = [{p.relative_to(out): p.read_bytes() for p in out.rglob("*") if p.is_file()} for out in (alone, both)]
    assert files[0] == files[1]
    assert sorted(p.name for p in tmp_path.iterdir()) == ["alone", "both"]


def test_a_handbook_that_fails_leaves_nothing_beside(
    plan: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An error while the other process writes pages comes out, and no half-made folder stays."""

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("fieldkit.handbook.book.page_data", fail)
    with pytest.raises(OSError, match="No space left"), Beside(second=True) as beside:
        write_handbook(plan, tmp_path / "out", beside=beside)
    assert list(tmp_path.iterdir()) == []


def test_the_repairs_to_print_are_those_that_spare_most(facts: Any) -> None:
    """H69: by hours spared of all vehicles together, each weak point by the repair that stands first on its page."""
    rod = [p.id for p in facts.repairs_of["rod-bent"]]
    hose = next(m for m, ps in facts.repairs_of.items() if "replace-a-coolant-hose" in [p.id for p in ps])
    cover = (
        Cover("tern", hose, ("replace-a-coolant-hose",), 10.0, 4.0),
        Cover("tern", "rod-bent", tuple(reversed(rod)), 9.0, 5.0),
        Cover("plover", "rod-bent", tuple(reversed(rod)), 9.0, 5.0),
        Cover("tern", "unmended", (), 90.0, 90.0),
    )
    kit = replace(facts.plan.kit, cover=cover)
    changed = Facts(SimpleNamespace(**{**vars(facts.plan), "kit": kit}), facts.words)
    assert repairs_that_spare_most(changed) == [rod[0], "replace-a-coolant-hose"]
