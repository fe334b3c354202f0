"""What is asked of every page that is seen in a browser, by a desk or by a host.

The checks are axe-core's, by its rules for WCAG 2.1 A and AA and its own best practices; widths and
zoom are those of WCAG 2.1, 1.4.10 (320 CSS pixels asked, 360 promised) and 1.4.4 (200 %).
"""

from __future__ import annotations

from typing import Any

from axe_playwright_python.base import AXE_SCRIPT

ROOM = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
"""How far a page reaches beyond the window, in CSS pixels."""

WEIGHED = """(only) => axe.run({
  resultTypes: ["violations"], selectors: false, ...(only && { runOnly: only }),
}).then((found) => found.violations.map((one) => [one.id, one.nodes.map(
  (node) => [node.html, ...node.any.map((each) => each.message)])]))"""

COLOURS = ["color-contrast", "link-in-text-block"]
"""The rules of axe-core that ask about colors."""

LAID_OUT = """() => [...document.querySelectorAll("*")].map((one) => {
  const box = one.getBoundingClientRect(), style = getComputedStyle(one);
  return [box.x, box.y, box.width, box.height, style.visibility, style.position].join();
}).join(";")"""


LOOK = """() => [...document.querySelectorAll("*")].map((one) => {
  const style = getComputedStyle(one);
  return [style.color, style.background, style.opacity, style.fontSize, style.fontWeight].join();
}).join(";")"""


def assert_open_to_everybody(page: Any, what: str) -> None:
    """See that nothing of a page shuts anybody out, wide and narrow, in light and in dark.

    Where a page is laid out in dark as in light, only its colors are asked about once more, and
    those not where they are what they were in the other width.
    """
    before = page.viewport_size
    if not page.evaluate("'axe' in window"):
        page.add_init_script(AXE_SCRIPT)  # for the pages to come it is compiled by then
        page.evaluate(AXE_SCRIPT)
    looks: set[str] = set()
    for width, schemes in ((1440, ("light", "dark")), (360, ("dark", "light"))):
        page.set_viewport_size({"width": width, "height": 900})
        page.evaluate("new Promise(requestAnimationFrame)")  # its scripts know of it by then
        laid_out = ""
        for scheme in schemes:
            where = (what, width, scheme)
            page.emulate_media(color_scheme=scheme)
            known, laid_out = laid_out, page.evaluate(LAID_OUT)
            look = page.evaluate(LOOK)
            only = COLOURS if laid_out == known else None
            wrong = page.evaluate(WEIGHED, only) if only is None or look not in looks else []
            looks.add(look)
            assert not wrong, (*where, wrong)
            assert not (beyond := page.evaluate(ROOM)), (*where, beyond)
    page.set_viewport_size({"width": 720, "height": 450})  # 200 % of the first
    assert not (beyond := page.evaluate(ROOM)), (what, 720, beyond)
    page.set_viewport_size(before)
