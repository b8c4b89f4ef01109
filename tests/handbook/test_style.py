"""The style sheet's tokens: contrast (WCAG 2.2 formula), sizes, paper."""

from __future__ import annotations

import re

import pytest

from fieldkit.handbook.render import css_string, script_text, style_text

CSS = style_text()


def tokens(selector: str) -> dict[str, str]:
    block = re.search(re.escape(selector) + r"\s*{(.*?)}", CSS, re.S)
    assert block, selector
    return dict(re.findall(r"--([a-z-]+):\s*(#[0-9a-f]{6})", block[1]))


def luminance(colour: str) -> float:
    """Relative luminance. WCAG 2.2, definition of "relative luminance" (from memory of the text; checked by black on white)."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(a: str, b: str) -> float:
    light, dark = sorted((luminance(a), luminance(b)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_formula_gives_21_for_black_on_white() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("selector", [":root", '[data-scheme="dark"]', '[data-scheme="strong"]'])
def test_text_and_edges_are_easy_to_see(selector: str) -> None:
    """H45: text 4.5:1, edges of controls and the focus ring 3:1, in every scheme."""
    colour = {**tokens(":root"), **tokens(selector)}
    for name in ("ink", "soft", "link"):
        for ground in ("paper", "tint"):
            assert contrast(colour[name], colour[ground]) >= 4.5, (name, ground)
    for name in ("hair", "focus"):
        assert contrast(colour[name], colour["paper"]) >= 3.0, name


@pytest.mark.parametrize("word", ["danger", "warning", "caution", "notice"])
def test_signal_words_are_readable_on_their_panels(word: str) -> None:
    """H24."""
    colour = tokens(":root")
    assert contrast(colour[f"{word}-ink"], colour[word]) >= 4.5


def test_borders_differ_by_signal_word() -> None:
    """H24: told apart in black and white by the border's weight and the word."""
    weights = [
        int(re.search(rf"\.hazard\.{w} {{ border-width: (\d)px", CSS)[1]) for w in ("danger", "warning", "caution")
    ]  # type: ignore[index]
    assert weights == sorted(weights, reverse=True)
    assert len(set(weights)) == 3


def test_type_sizes_and_leading() -> None:
    """H35: body 16 px or more on screen with leading 1.5; 10 pt or more on paper with leading 1.2 or more."""
    body = float(re.search(r"body {[^}]*font-size: ([\d.]+)rem", CSS)[1])  # type: ignore[index]
    assert body * 16 >= 16
    assert "font: 100%/1.5 system-ui, sans-serif" in CSS
    paper = CSS[CSS.index("@media print") :]
    size = float(re.search(r"html { font-size: ([\d.]+)pt; line-height: ([\d.]+)", paper)[1])  # type: ignore[index]
    assert size >= 10
    assert not re.search(r"text-transform:\s*uppercase", CSS)


def test_no_words_are_smaller_than_16_px_or_10_pt() -> None:
    """H35: limits, severities, what is not covered, the bar and heads of forms too; sizes in rem, or pt on paper."""
    screen, _, rest = CSS.partition("@page")
    on_paper = [m.group() for m in re.finditer(r"(?ms)^@media print {.*?^}", rest)]
    assert len(on_paper) >= 3
    for block in on_paper:
        rest = rest.replace(block, "")
    sizes = re.findall(r"font-size: ([\d.]+)rem", screen + rest)
    assert len(sizes) > 20 and min(map(float, sizes)) >= 1
    paper = "".join(on_paper)
    rem = float(re.search(r"html { font-size: ([\d.]+)pt", paper)[1])  # type: ignore[index]
    sizes = [float(n) * (rem if unit == "rem" else 1) for n, unit in re.findall(r"font-size: ([\d.]+)(rem|pt)", paper)]
    assert min(sizes) >= 10
    assert set(re.findall(r"font-size: [\d.]+([a-z%]+)", CSS)) <= {"rem", "pt", "%"}


def test_system_fonts_only_and_no_motion() -> None:
    """H65."""
    assert "@font-face" not in CSS
    assert set(re.findall(r"font(?:-family)?:[^;]*?(system-ui[^;]*)", CSS)) <= {"system-ui, sans-serif"}
    assert "prefers-reduced-motion" in CSS


def test_paper_needs_no_background() -> None:
    """H54, H59, s17: signal words print black on white."""
    paper = CSS[CSS.index("@media print") :]
    assert ".signal, .word { background: none !important; color: #000 !important; }" in paper


def test_a_footer_cannot_end_the_style_sheet() -> None:
    """A trip's name goes into the style sheet as a string that nothing can leave."""
    assert css_string('x"; } body { display: none } </style>') == (
        '"x\\22 ; \\7d  body \\7b  display: none \\7d  \\3c /style\\3e "'
    )


def test_scripts_are_classic_and_quiet() -> None:
    """H51, H52: no module, no fetch, storage only inside try."""
    script = script_text()
    assert script.count("innerHTML") == 1, (
        "only pages of the one file, escaped as they were made, become pages from text"
    )
    assert script_text(("held.js",)).count("innerHTML") == 1
    assert not re.search(r"\bimport\b|\bexport\b|\bfetch\(|\beval\(|document\.write|new Function", script)
    assert script.count("localStorage") == 2
