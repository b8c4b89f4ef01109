"""Every kind of page in a real browser: offline, narrow, without scripts, without storage, by keyboard, accessible."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .conftest import KINDS, missing

pytestmark = pytest.mark.browser


def test_the_list_of_kinds_is_whole(built: Path) -> None:
    """Every template of a handbook is behind a page of the list that the other tests here walk.

    Frames, forms and the page that compares two plans are made by commands of their own and not walked here.
    """
    from fieldkit.handbook.book import all_bodies, gather

    folder = Path(__file__).parents[2] / "site_template"
    frames = {
        "page.html", "bar.html", "foot.html", "macros.html", "charts.html", "joined.html", "one_file.html", "form.html",
        "form_page.html", "form_index.html", "leader.html", "comparison.html", "sprite.html",
    }  # fmt: skip
    from sample import sample_plan

    behind = {p.template for p in (b.page for b in all_bodies(gather(sample_plan()))) if f"{p.key}.html" in KINDS}
    assert {p.name for p in folder.glob("*.html")} - frames == behind


def test_pages_open_without_trouble_and_ask_for_nothing_outside(open_page: Callable[..., Any], built: Path) -> None:
    """H52, s14, s21: on every kind of page no error in the console, every request a file of this folder."""
    page = open_page(built / "index.html")
    for kind in KINDS:
        page.goto((built / kind).as_uri())
        page.wait_for_load_state("networkidle")
        assert page.troubles == [], kind
    assert all(url.startswith((built.as_uri(), "blob:", "data:")) for url in page.asked)


@pytest.mark.parametrize("width", [320, 360, 768, 1280])
def test_no_page_scrolls_sideways(open_page: Callable[..., Any], built: Path, forms: Path, width: int) -> None:
    """H47: at phone, tablet and laptop widths; wide tables scroll in their own box."""
    page = open_page(built / "index.html", width=width)
    for path in [*(built / k for k in KINDS), forms / "tern.html", forms / "index.html"]:
        page.goto(path.as_uri())
        assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth"), path


def test_all_is_readable_without_scripts(open_page: Callable[..., Any], built: Path) -> None:
    """H51, H61: no search box, no hidden content, headings visible."""
    page = open_page(built / "index.html", java_script_enabled=False)
    for kind in KINDS:
        page.goto((built / kind).as_uri())
        assert page.locator("input").count() == 0, kind
        assert page.locator("[hidden]").count() == 0, kind
        shut = page.locator("main :is(h1, h2, h3):not(details *)").evaluate_all(
            "all => all.filter(h => h.getClientRects().length === 0).map(h => h.textContent)"
        )
        assert shut == [], kind


@pytest.mark.parametrize("kind", ["index.html", "lists/first-light.html", "stock.html", "trip-handbook.html"])
def test_pages_work_where_storage_throws(open_page: Callable[..., Any], browser: Any, built: Path, kind: str) -> None:
    """H63, s15: the page renders whole, ticks work for the visit, and a line says that they will not be kept."""
    context = browser.new_context(viewport={"width": 360, "height": 740}, offline=True)
    context.add_init_script("Object.defineProperty(window, 'localStorage', { get() { throw new Error('blocked'); } });")
    page = context.new_page()
    troubles: list[str] = []
    page.on("pageerror", lambda odd: troubles.append(str(odd)))
    page.goto((built / kind).as_uri())
    boxes = page.locator(".ticks input[type=checkbox]")
    if boxes.count():
        boxes.first.check()
        assert boxes.first.is_checked()
        assert "not saved on this device" in page.locator(".notice-line").inner_text()
    assert page.locator("h1").first.is_visible()
    assert troubles == []
    context.close()


def test_targets_are_large_enough_for_gloves(open_page: Callable[..., Any], built: Path) -> None:
    """H46: bar, emergencies, boxes and buttons at least 44 px high at 320 px; every link outside a sentence 24 px or more."""
    page = open_page(built / "index.html", width=320)
    script = """sel => [...document.querySelectorAll(sel)].filter(e => e.offsetParent !== null && !e.closest('.skip'))
        .map(e => [e.textContent.trim(), e.getBoundingClientRect().height])"""
    for kind, selector, least in (
        ("index.html", ".bar nav a, .emergencies a, .contents a, .tools input", 44),
        ("repairs/index.html", ".numbered a", 44),
        ("symptoms/index.html", ".plain a, .picker input, .picker select", 44),
        ("stock.html", "button, select", 44),
        ("lists/first-light.html", ".ticks li, button", 44),
        ("repairs/replace-a-coolant-hose.html", ".gear a, summary", 24),
        ("vehicles/tern/index.html", "td a, .ranked .action a, .story summary", 24),
    ):
        page.goto((built / kind).as_uri())
        small = [x for x in page.evaluate(script, selector) if x[1] < least]
        assert small == [], kind


#: Letters of the page that are smaller than a size [px], and words that are wider than their box.
SMALL = """least => [...document.querySelectorAll('body *:not(script, style, svg *)')]
    .filter(e => e.offsetParent !== null && [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()))
    .map(e => [e.textContent.trim().slice(0, 40), parseFloat(getComputedStyle(e).fontSize)])
    .filter(x => x[1] < least - 0.01)"""
BROKEN = """() => [...document.querySelectorAll('.bar nav a')].filter(a => {
    const of = text => { const r = document.createRange(); r.setStart(a.firstChild, text[0]); r.setEnd(a.firstChild, text[1]); return r; };
    return [...a.textContent.matchAll(/\\S+/g)].some(w => of([w.index, w.index + w[0].length]).getClientRects().length > 1)
        || a.scrollWidth > a.clientWidth; }).map(a => a.textContent)"""


@pytest.mark.parametrize("width", [320, 360, 1280])
def test_letters_are_16_px_or_more_and_the_bar_breaks_no_word(
    open_page: Callable[..., Any], built: Path, forms: Path, width: int
) -> None:
    """H35, H47: as the browser sets them, on every kind of page and on a form, beside drawings."""
    page = open_page(built / "index.html", width=width)
    for path in [*(built / kind for kind in KINDS), *sorted(forms.rglob("*.html"))]:
        page.goto(path.as_uri())
        assert page.evaluate(SMALL, 16) == [], path
        assert page.evaluate(BROKEN) == [], path
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), path


def test_letters_on_paper_are_10_pt_or_more(open_page: Callable[..., Any], built: Path, forms: Path) -> None:
    """H35: as the browser sets them for print, the running foot apart."""
    page = open_page(built / "index.html", width=718)
    page.emulate_media(media="print")
    for path in [*(built / kind for kind in KINDS), *sorted(forms.rglob("*.html"))]:
        page.goto(path.as_uri())
        assert page.evaluate(SMALL, 10 * 96 / 72) == [], path


def test_keyboard_walk_shows_the_focus(open_page: Callable[..., Any], built: Path) -> None:
    """H48: tab through a page; every stop is visible, with an outline."""
    page = open_page(built / "repairs" / "replace-a-coolant-hose.html")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    seen = set()
    for _ in range(60):
        page.keyboard.press("Tab")
        stop = page.evaluate(
            """() => { const e = document.activeElement; if (e === document.body) return null;
            const s = getComputedStyle(e), r = e.getBoundingClientRect();
            return [e.tagName + ' ' + e.textContent.slice(0, 30), parseFloat(s.outlineWidth), s.outlineStyle,
                    r.bottom > 0 && r.top < innerHeight]; }"""
        )
        if stop is None:
            break
        seen.add(stop[0])
        assert stop[1] >= 2 and stop[2] != "none", stop
        assert stop[3], stop
    assert len(seen) > 15


def test_skip_link_goes_to_the_page(open_page: Callable[..., Any], built: Path) -> None:
    page = open_page(built / "kit.html")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.tagName") == "MAIN"


def test_large_text_and_wide_spacing_lose_nothing(open_page: Callable[..., Any], built: Path) -> None:
    """H49: 200 % letters, and the text spacing of WCAG 1.4.12, without sideways scroll or clipped boxes."""
    page = open_page(built / "index.html", width=640)
    css = (
        "html{font-size:200%!important} *{line-height:1.5!important;letter-spacing:.12em!important;"
        "word-spacing:.16em!important} p{margin-bottom:2em!important}"
    )
    for kind in ("index.html", "repairs/replace-a-coolant-hose.html", "emergency/fire.html", "lists/first-light.html"):
        page = open_page(built / kind, width=640, bypass_csp=True)
        page.add_style_tag(content=css)
        assert page.evaluate("document.documentElement.scrollWidth <= 640"), kind
        clipped = page.evaluate(
            "[...document.querySelectorAll('main *')].filter(e => getComputedStyle(e).overflow === 'hidden' && "
            "e.scrollHeight > e.clientHeight + 1).length"
        )
        assert clipped == 0, kind


def test_light_is_the_default_and_the_choice_is_kept(open_page: Callable[..., Any], built: Path) -> None:
    """H54: light even where the device asks for dark; a button changes it, and the next page keeps it."""
    page = open_page(built / "index.html", color_scheme="dark")
    ground = "getComputedStyle(document.body).backgroundColor"
    assert page.evaluate(ground) == "rgb(255, 255, 255)"
    page.get_by_role("button", name="Dark page").click()
    assert page.evaluate(ground) == "rgb(18, 18, 15)"
    page.goto((built / "kit.html").as_uri())
    assert page.evaluate(ground) == "rgb(18, 18, 15)"
    assert page.get_by_role("button", name="Dark page").get_attribute("aria-pressed") == "true"
    page.get_by_role("button", name="Dark page").click()
    assert page.evaluate(ground) == "rgb(255, 255, 255)"


def test_drawing_letters_are_11_px_or_more(open_page: Callable[..., Any], built: Path) -> None:
    """H66: at 320 px."""
    page = open_page(built / "trip" / "route.html", width=320)
    for kind in ("trip/route.html", "vehicles/tern/index.html", "kit.html", "vehicles/tern/packing.html"):
        page.goto((built / kind).as_uri())
        sizes = page.evaluate(
            "[...document.querySelectorAll('.drawing text')].map(t => parseFloat(getComputedStyle(t).fontSize) * "
            "t.getScreenCTM().a)"
        )
        assert sizes and min(sizes) >= 11, kind


# ------------------------------------------------------------------------------------------ engines
@pytest.mark.parametrize("scheme", ["", "dark", "strong"])
def test_the_accessibility_engine_finds_nothing(
    open_page: Callable[..., Any], built: Path, forms: Path, axe: str, scheme: str
) -> None:
    """H45: WCAG 2.2 A and AA and the engine's best practices, on every kind of page, in every scheme."""
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    found = []
    page = open_page(built / "index.html", bypass_csp=True)
    for path in [*(built / k for k in KINDS), *sorted(forms.glob("*.html"))]:
        page.goto(path.as_uri())
        page.add_style_tag(content=".sheet{content-visibility:visible!important}")
        page.evaluate("scheme => { document.documentElement.dataset.scheme = scheme; }", scheme)
        page.evaluate(axe)
        result = page.evaluate("tags => axe.run({ runOnly: tags })", tags)
        found += [(path.name, v["id"], v["nodes"][0]["html"][:120]) for v in result["violations"]]
    assert found == []


def test_the_html_checker_finds_no_error(built: Path, forms: Path) -> None:
    """H50: the Nu checker over every built page in one run."""
    jar = os.environ.get("FIELDKIT_VNU")
    if not jar or not Path(jar).is_file() or not shutil.which("java"):
        missing("no HTML checker: set FIELDKIT_VNU to vnu.jar and install Java (.ci/run does)")
    done = subprocess.run(
        ["java", "-jar", str(jar), "--skip-non-html", "--errors-only", str(built), str(forms)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")


# ------------------------------------------------------------------------------------------ one file
def test_the_one_file_works_alone(open_page: Callable[..., Any], built: Path, tmp_path: Path) -> None:
    """H60: copied alone to an empty folder it opens, every link leads somewhere in it, search and finder work."""
    alone = tmp_path / "empty" / "sent.html"
    alone.parent.mkdir()
    shutil.copy(built / "trip-handbook.html", alone)
    page = open_page(alone)
    page.evaluate("fieldkit.fillAll()")
    dead = page.evaluate(
        "[...document.querySelectorAll('a[href]')].map(a => a.getAttribute('href'))"
        ".filter(h => h[0] !== '#' || !document.getElementById(decodeURIComponent(h.slice(1))))"
    )
    assert dead == []
    page.locator("input[type=search]").first.fill("hose")
    page.locator(".found a").first.click()
    assert "hose" in page.evaluate("document.querySelector(location.hash).dataset.page")
    page.locator("#finder-type").fill("temper")
    page.locator(".options button").first.click()
    assert page.locator("[data-cause]").count() > 1
    assert page.troubles == []
    assert page.asked == [alone.as_uri()]


def none_left(page: Any, count: str) -> bool:
    """Whether a count falls to nought within ten seconds; the pages' policy forbids the driver's own waiting."""
    for _ in range(100):
        if page.evaluate(count) == 0:
            return True
        page.wait_for_timeout(100)
    return False


def test_pages_of_the_one_file_wait_as_text_until_they_are_wanted(browser: Any, built: Path) -> None:
    """s24: what is asked for is there at once, whole and with its boxes; in the end, in print and without scripts everything is."""
    file = (built / "trip-handbook.html").as_uri()
    waiting = "document.querySelectorAll('article.sheet > noscript').length"
    whole = browser.new_page(java_script_enabled=False)
    whole.goto(file)
    counted = """Object.fromEntries([...document.querySelectorAll('article.sheet')].map(
        a => [a.dataset.page, ['h2', 'h3', 'li', 'td', 'dd', 'dt', 'svg'].map(t => a.querySelectorAll(t).length)]))"""
    as_shipped = whole.evaluate(counted)
    anchor = whole.locator("article[data-page^='repairs/'] [id]").first.get_attribute("id")
    whole.close()

    page = browser.new_page()
    page.add_init_script("window.requestIdleCallback = function () {}")
    page.goto(file)
    assert page.evaluate(waiting) > 20
    key = "lists/first-light"
    page.evaluate("k => { location.hash = document.querySelector(`article[data-page='${k}']`).id; }", key)
    page.locator(f"article[data-page='{key}'] input[type=checkbox]").first.check()
    page.goto(f"{file}#{anchor}")
    page.reload()
    assert page.locator(f"#{anchor}").is_visible()
    assert page.evaluate(waiting) > 20
    page.pdf()
    assert page.evaluate(waiting) == 0
    filled = page.evaluate(counted)
    live = {"index", "stock", "symptoms/index"}
    assert {k: n for k, n in filled.items() if k not in live} == {k: n for k, n in as_shipped.items() if k not in live}
    assert sum(sum(n) for n in filled.values()) > 500
    page.close()

    page = browser.new_page()
    page.goto(file)
    assert none_left(page, waiting)
    page.close()


def test_the_one_file_finds_and_labels_what_the_folder_does(open_page: Callable[..., Any], built: Path) -> None:
    """The file says column headings and words of the index once: on a phone each cell shows its heading, and search answers alike."""
    folder, one = open_page(built / "index.html"), open_page(built / "trip-handbook.html")
    one.evaluate("fieldkit.fillAll()")
    found = "[...document.querySelectorAll('.found a')].map(a => [a.querySelector('b'), a.querySelector('.sub')].map(x => x.textContent.split(':')[0]))"
    answers = 0
    for word in ("hose", "coolnt", "repair 1", "snatch strap", "wheel nut", "constructor"):
        said = []
        for page in (folder, one):
            page.locator("input[type=search]").first.fill(word)
            page.locator(".found li").first.wait_for()
            said.append(page.evaluate(found))
        assert said[0] == said[1], word
        answers += len(said[0])
    assert answers > 8
    cells = "[...(document.querySelector(%s) || document).querySelectorAll('table.stack td')].map(c => getComputedStyle(c, '::before').content)"
    for key in ("symptoms/gauge-climbs", "vehicles/tern/index", "trip/route"):
        page = open_page(built / f"{key}.html")
        for at in (page, one):
            at.set_viewport_size({"width": 360, "height": 740})
        here, there = page.evaluate(cells % "'main'"), one.evaluate(cells % f"`article[data-page='{key}']`")
        assert here and all(text not in ("none", '": "') for text in there), key
        assert [text.count('"') for text in there] == [2] * len(there)
        labels = page.evaluate("[...document.querySelectorAll('main table.stack td')].map(c => c.dataset.h + ': ')")
        assert [text.strip('"') for text in there] == labels
    assert folder.troubles == one.troubles == []


def test_pages_of_the_one_file_come_without_its_other_scripts(browser: Any, built: Path, tmp_path: Path) -> None:
    """An old browser may not read the search or the finder; what brings the pages is a script of its own, in the oldest language."""
    whole = (built / "trip-handbook.html").read_text(encoding="utf-8")
    scripts = re.findall(r"<script>(.*?)</script>", whole, re.S)
    assert "kit.fillAll" in scripts[0] and not re.search(
        r"\b(?:let|const|class|async)\b|=>|`|\.\.\.", re.sub(r"/\*.*?\*/", "", scripts[0], flags=re.S)
    )
    file = tmp_path / "changed.html"
    for script in scripts[1:]:
        whole = whole.replace(script, script + "// no longer fits the policy")
    file.write_text(whole, encoding="utf-8")
    page = browser.new_page()
    page.goto(file.as_uri())
    assert page.locator("input[type=search]").count() == 0
    assert none_left(page, "document.querySelectorAll('article.sheet > noscript').length")
    page.locator("article[data-page='repairs/index'] li a").last.click()
    page.locator("article:target h2").first.wait_for(state="visible", timeout=5000)
    page.close()


def test_hostile_text_stays_text(open_page: Callable[..., Any], built: Path) -> None:
    """Names and notes with tags in them run nothing, on pages, in search results, finder and stock."""
    for kind in ("index.html", "vehicles/tern/index.html", "stock.html", "symptoms/index.html", "trip-handbook.html"):
        page = open_page(built / kind)
        page.on("dialog", lambda d: pytest.fail(f"a dialog opened: {d.message}"))
        page.wait_for_load_state("networkidle")
        assert page.locator("main i, main script").count() == 0
        assert page.troubles == []
    page = open_page(built / "symptoms" / "index.html")
    page.locator("#finder-type").fill("temper")
    page.locator(".options button").first.click()
    assert "Plover & <i>Co</i>" in page.locator("#finder-vehicle option").first.inner_text()
    assert re.search(r"<i>", page.locator("#finder-vehicle").inner_text())
