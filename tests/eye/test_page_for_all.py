"""The page for those who have no pointer, no scripts, a phone, a printer or a screen reader.

What it is held to is WCAG 2.2 AA (W3C Recommendation, 2023); the numbers are its success criteria.
"""

from __future__ import annotations

import base64
import io
import itertools
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from ghostprep.eye.preview import Ask, write_page


@pytest.fixture(scope="module")
def page(folder: Path) -> Path:
    return write_page(Ask(loop=folder / "loop.mp4", scene=folder / "hall.toml"), folder / "all.html").path


@pytest.fixture
def window(browser: Any) -> Iterator[Any]:
    yield browser
    browser.devtools("Emulation.setEmulatedMedia", {"media": "", "features": []})
    browser.devtools("Emulation.setScriptExecutionDisabled", {"value": False})
    browser.resize(1200, 900)


def prefer(window: Any, **features: str) -> None:
    told = [{"name": name.replace("_", "-"), "value": value} for name, value in features.items()]
    window.devtools("Emulation.setEmulatedMedia", {"features": told})


def spoken(window: Any) -> list[dict[str, Any]]:
    """What a screen reader is given: role, name, value and properties of each node."""
    nodes = window.devtools("Accessibility.getFullAXTree", {})["nodes"]
    return [
        {key: node.get(key, {}).get("value", "") for key in ("role", "name", "value")}
        | {prop["name"]: prop["value"].get("value") for prop in node.get("properties", [])}
        for node in nodes
        if not node.get("ignored")
    ]


LEAST_CONTRAST = """
const canvas = document.createElement('canvas').getContext('2d', {willReadFrequently: true});
const light = (css) => {
  canvas.fillStyle = css; canvas.fillRect(0, 0, 1, 1);
  const [r, g, b] = [...canvas.getImageData(0, 0, 1, 1).data].map((c) =>
    c / 255 <= 0.04045 ? c / 255 / 12.92 : ((c / 255 + 0.055) / 1.055) ** 2.4);
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
};
const behind = (e) => {
  const own = getComputedStyle(e).backgroundColor;
  return own === 'rgba(0, 0, 0, 0)' && e.parentElement ? behind(e.parentElement) : own;
};
const told = [];
for (const e of document.querySelectorAll('body *')) {
  const own = [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
  if (!own || !e.checkVisibility() || e.closest('svg, script')) continue;
  const [a, b] = [light(getComputedStyle(e).color), light(behind(e))];
  told.push([(Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05), e.outerHTML.slice(0, 80)]);
}
return told.sort((x, y) => x[0] - y[0])[0];
"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_text_stands_out_from_what_is_behind_it(window: Any, page: Path, scheme: str) -> None:
    """1.4.3."""
    prefer(window, prefers_color_scheme=scheme)
    window.open(page)
    ratio, where = window.run(LEAST_CONTRAST)
    assert ratio >= 4.5, where


def test_printed_it_is_dark_on_white_paper_also_where_the_screen_is_dark(window: Any, page: Path) -> None:
    window.devtools(
        "Emulation.setEmulatedMedia",
        {"media": "print", "features": [{"name": "prefers-color-scheme", "value": "dark"}]},
    )
    window.open(page)
    window.run("document.documentElement.style.setProperty('--paper', '#fff')")
    ratio, where = window.run(LEAST_CONTRAST)
    assert ratio >= 4.5, where
    paper = window.devtools("Page.printToPDF", {"paperWidth": 8.27, "paperHeight": 11.69})
    text = " ".join(
        sheet.extract_text() for sheet in PdfReader(io.BytesIO(base64.b64decode(paper["data"]))).pages
    )
    assert "white stands out" in text
    for control in ("One frame on", "Lamps in the scene", "look closer"):
        assert control not in text


@pytest.mark.parametrize("size", [(320, 640), (390, 844), (640, 320), (1280, 800)])
def test_what_the_keyboard_is_on_is_never_hidden_and_the_picture_stays_beside_it(
    window: Any, page: Path, size: tuple[int, int]
) -> None:
    """2.4.11: nothing lies over the control in use; and one sees what it does."""
    window.resize(*size)
    window.open(page)
    controls = window.run("return document.querySelectorAll('.desk button, .desk input').length")
    window.run("document.getElementById('view').scrollIntoView()")
    window.press("\ue004")  # the link in the header
    for _ in range(controls):
        window.press("\ue004")
        name, left, top, right, bottom, seen = window.run(
            """
            const e = document.activeElement, c = document.getElementById('view').getBoundingClientRect();
            const r = e.getBoundingClientRect();
            const at = document.elementFromPoint((r.left + r.right) / 2, (r.top + r.bottom) / 2);
            const high = Math.min(c.bottom, innerHeight) - Math.max(c.top, 0);
            return [e.id, r.left, r.top, r.right, r.bottom, at === e ? high / c.height : -1];
            """
        )
        assert seen > 0.5, name
        assert 0 <= left < right <= size[0], name
        assert -1 <= top < bottom <= size[1] + 1, name


def test_a_finger_scrolls_and_zooms_the_page_over_the_picture_too(window: Any, page: Path) -> None:
    window.open(page)
    assert (
        window.run("return getComputedStyle(document.getElementById('view')).touchAction")
        == "pan-y pinch-zoom"
    )


def test_no_control_is_smaller_than_a_finger_hits(window: Any, page: Path) -> None:
    """2.5.8: 24 by 24 CSS px."""
    window.resize(320, 640)
    window.open(page)
    small = window.run(
        """
        return [...document.querySelectorAll('button, input')].filter((e) => {
          const r = e.getBoundingClientRect();
          return r.width < 24 || r.height < 24;
        }).map((e) => e.id);
        """
    )
    assert small == []


def test_the_verdicts_are_seen_without_scrolling_aside_on_a_phone(window: Any, page: Path) -> None:
    window.resize(320, 640)
    window.open(page)
    wide, shown = window.run(
        "const w = document.querySelector('.wide'); return [w.scrollWidth, w.clientWidth]"
    )
    assert wide <= shown


def test_without_scripts_a_still_picture_and_a_word_stand_there_and_nothing_dead(
    window: Any, page: Path
) -> None:
    window.devtools("Emulation.setScriptExecutionDisabled", {"value": True})
    window.open(page, ready="document.readyState === 'complete'")
    nodes = spoken(window)
    names = [node["name"] for node in nodes if node["role"] == "image"]
    assert "The ghost in the scene, simulated, from the middle eye position" in names
    assert any(node["name"].startswith("Scripts do not run here") for node in nodes)
    assert not {"button", "slider", "checkbox"} & {node["role"] for node in nodes}
    assert not [name for name in names if name.startswith(("The raster", "Frame"))]


def test_a_reader_that_speaks_is_told_amounts_once_and_not_in_steps_of_the_slider(
    window: Any, page: Path
) -> None:
    """4.1.2, 4.1.3: sliders say what they stand at, and nothing speaks as often as frames change."""
    prefer(window, prefers_reduced_motion="reduce")
    window.open(page)
    window.run("document.getElementById('across').focus()")
    window.press("\ue014", "\ue014")
    nodes = spoken(window)
    sliders = {node["name"]: node for node in nodes if node["role"] == "slider"}
    told = {
        name: window.run(f"return document.getElementById('{key}').getAttribute('aria-valuetext')")
        for name, key in (
            ("Across", "across"),
            ("Room", "room"),
            ("Frame", "frame"),
            ("Lamps in the scene", "lamps"),
        )
    }
    assert set(told) <= set(sliders)
    assert told["Across"] == "2 mm to the right"
    assert re.fullmatch(r"[\d.]+ lux", told["Room"])
    assert re.fullmatch(r"[\d.]+ cd/m²", told["Lamps in the scene"])
    assert told["Frame"] == "frame 0 of 45, 0.00 s"
    # an <output> is a live region: with thirty frames a second it would never be still
    assert not [node for node in nodes if node["role"] == "status"]
    play = next(node for node in nodes if node["role"] == "button" and node["name"] in {"Play", "Stop"})
    assert "pressed" not in play  # what it does stands on it; "Stop, pressed" says it twice over


def test_headings_go_down_by_one_and_every_picture_has_its_words(window: Any, page: Path) -> None:
    """1.1.1, 1.3.1, 2.4.6."""
    window.open(page)
    nodes = spoken(window)
    levels = [node["level"] for node in nodes if node["role"] == "heading"]
    assert levels[0] == 1
    assert all(b - a <= 1 for a, b in itertools.pairwise(levels))
    assert levels.count(1) == 1
    for node in nodes:
        if node["role"] in {"image", "button", "slider", "checkbox", "link", "group", "region", "table"}:
            assert node["name"], node
    assert [node for node in nodes if node["name"].endswith((", blended", ", the first after the join"))]


def test_what_must_be_scrolled_aside_can_be_without_a_pointer(window: Any, page: Path) -> None:
    """2.1.1."""
    window.resize(320, 640)
    window.open(page)
    stuck = window.run(
        """
        return [...document.querySelectorAll('body *')].filter((e) =>
          e.scrollWidth > e.clientWidth + 1 && e.tabIndex < 0
          && /auto|scroll/.test(getComputedStyle(e).overflowX)
        ).map((e) => e.outerHTML.slice(0, 80));
        """
    )
    assert stuck == []


def test_it_stands_still_for_those_who_want_less_motion(window: Any, page: Path) -> None:
    """2.3.3."""
    for choice, word in (("reduce", "Play"), ("no-preference", "Stop")):
        prefer(window, prefers_reduced_motion=choice)
        window.open(page)
        assert window.run("return document.getElementById('play').textContent") == word


def test_wider_spacing_cuts_no_text_off(window: Any, page: Path) -> None:
    """1.4.12, with its four amounts."""
    window.resize(360, 800)
    window.open(page)
    cut = window.run(
        """
        const style = document.createElement('style');
        style.textContent = '* { line-height: 1.5 !important; letter-spacing: .12em !important; '
          + 'word-spacing: .16em !important; } p { margin-bottom: 2em !important; }';
        document.head.append(style);
        return [document.documentElement.scrollWidth,
          [...document.querySelectorAll('p, li, button, legend, span, dd, dt, h1, h2')]
            .filter((e) => e.scrollHeight > e.clientHeight + 2 && getComputedStyle(e).overflow === 'hidden')
            .map((e) => e.outerHTML.slice(0, 60))];
        """
    )
    assert cut == [360, []]
