"""WCAG 2.2: contrast worked out from the colours that are drawn, names of controls, and what axe-core finds."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from opened_page import Opened

Open = Callable[..., Opened]

COLOURS = """
() => {
  const rgba = (text) => text.match(/[\\d.]+/g).map(Number);
  const found = {};
  for (const element of document.querySelectorAll('body *')) {
    const own = [...element.childNodes].some((node) => node.nodeType === 3 && node.data.trim());
    const unread = element.closest('svg, .unseen, option, script, style, :disabled');
    if (!own || unread || !element.checkVisibility()) continue;
    let under = element;
    while (under && (rgba(getComputedStyle(under).backgroundColor)[3] ?? 1) === 0) under = under.parentElement;
    const back = getComputedStyle(under ?? document.documentElement).backgroundColor;
    const style = getComputedStyle(element);
    found[`${element.tagName}.${element.className}`] = [rgba(style.color), rgba(back)];
  }
  return found;
}
"""


def luminance(colour: list[float]) -> float:
    """WCAG 2.2, relative luminance."""
    parts = [part / 255 for part in colour[:3]]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: list[float], other: list[float]) -> float:
    """WCAG 2.2, contrast ratio."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_the_ratio_is_that_of_the_guidelines() -> None:
    """WCAG 2.2: black on white is 21:1. That #767676 is the lightest grey to pass on white is common practice."""
    assert contrast([0, 0, 0], [255, 255, 255]) == pytest.approx(21)
    assert contrast([0x76] * 3, [255] * 3) > 4.5 > contrast([0x77] * 3, [255] * 3)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 390])
def test_text_stands_out(opened: Open, html: str, scheme: str, width: int) -> None:
    """WCAG 2.2, 1.4.3: 4.5:1 for all text, large text not let off."""
    page = opened(html, "#t=20", color_scheme=scheme, viewport={"width": width, "height": 800})
    page.page.locator("#query").fill("bishop")
    page.until("document.querySelectorAll('#found li').length > 0")
    faint = {
        where: contrast(*colours) for where, colours in page.page.evaluate(COLOURS).items() if contrast(*colours) < 4.5
    }
    assert faint == {}


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_controls_and_the_cursor_stand_out(opened: Open, html: str, scheme: str) -> None:
    """WCAG 2.2, 1.4.11: 3:1 for what shows a control or a state."""
    page = opened(html, color_scheme=scheme)
    value = (
        "name => { const p = document.createElement('p'); document.body.append(p);"
        "p.style.color = `var(${name})`;"
        "const found = getComputedStyle(p).color.match(/[\\d.]+/g).map(Number); p.remove(); return found; }"
    )
    colours = {name: page.page.evaluate(value, f"--{name}") for name in ("paper", "faint", "rubric", "ink", "wash")}
    for name in ("faint", "rubric", "ink"):
        assert contrast(colours[name], colours["paper"]) >= 4.5
    assert contrast(colours["ink"], colours["wash"]) >= 4.5
    plate = page.page.evaluate(value, "--plate"), page.page.evaluate(value, "--plate-ink")
    assert contrast(*plate) >= 4.5


@pytest.mark.parametrize(
    ("options", "view"),
    [
        ({}, None),
        ({"color_scheme": "dark"}, None),
        ({"viewport": {"width": 390, "height": 844}}, None),
        ({"viewport": {"width": 390, "height": 844}, "color_scheme": "dark"}, "Moves"),
        ({"viewport": {"width": 390, "height": 844}}, "Picture"),
    ],
)
def test_axe_finds_nothing(opened: Open, html: str, options: dict[str, Any], view: str | None) -> None:
    """axe-core, the rules of WCAG 2.0 to 2.2 at levels A and AA and its best practices."""
    page = opened(html, "#t=20", **options)
    if view:
        page.page.get_by_role("button", name=view, exact=True).click()
    page.page.locator("#query").fill("bishop")
    page.until("document.querySelectorAll('#found li').length > 0")
    results = Axe().run(page.page)
    assert results.violations_count == 0, results.generate_report()


def test_controls_have_names_and_are_large_enough(opened: Open, html: str) -> None:
    """WCAG 2.2, 4.1.2 and 2.5.8: a name each, 24 by 24 CSS pixels."""
    for width in (1280, 390):
        page = opened(html, viewport={"width": width, "height": 800})
        for control in page.page.locator("button:visible, input:visible, select:visible").all():
            box = control.bounding_box()
            assert box and box["width"] >= 24 and box["height"] >= 24, control.evaluate("e => e.outerHTML")
            name = control.evaluate("e => e.getAttribute('aria-label') || e.innerText || e.labels?.[0]?.textContent")
            assert name and name.strip()


def test_the_position_is_told_to_those_who_do_not_see_it(opened: Open, html: str) -> None:
    page = opened(html)
    page.page.keyboard.press("ArrowRight")
    assert page.page.locator("#spoken-position").text_content() == "1.e4. In the game"
    assert page.page.locator("#spoken-position").get_attribute("role") == "status"
    assert "pawn e4" in (page.page.locator("#men").text_content() or "")
    assert page.page.locator("#board").get_attribute("aria-label") == "After 1.e4, Black to move"


def test_what_has_the_focus_is_seen(opened: Open, html: str) -> None:
    """WCAG 2.2, 2.4.7 and 2.4.11."""
    page = opened(html)
    for _ in range(12):
        page.page.keyboard.press("Tab")
        outline, box, height = page.page.evaluate(
            "(() => { const e = document.activeElement; const b = e.getBoundingClientRect();"
            "return [getComputedStyle(e).outlineStyle, [b.top, b.bottom], innerHeight]; })()"
        )
        assert outline == "solid"
        assert box[1] > 0 and box[0] < height
