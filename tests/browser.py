"""What is asked of every page that is seen in a browser, by a desk or by a host.

The checks are axe-core's, by its rules for WCAG 2.1 A and AA and its own best practices; widths and
zoom are those of WCAG 2.1, 1.4.10 (320 CSS pixels asked, 360 promised) and 1.4.4 (200 %).
"""

from __future__ import annotations

from typing import Any

from axe_playwright_python.base import AXE_SCRIPT

ROOM = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
"""How far a page reaches beyond the window, in CSS pixels."""

WEIGHED = """() => axe.run({ resultTypes: ["violations"] }).then((found) =>
  found.violations.map((one) => [one.id, one.nodes.map((node) => node.html)]))"""


def assert_open_to_everybody(page: Any, what: str) -> None:
    """See that nothing of a page shuts anybody out, wide and narrow, in light and in dark."""
    before = page.viewport_size
    page.evaluate(AXE_SCRIPT)
    for width, scheme in ((1440, "light"), (1440, "dark"), (360, "dark"), (360, "light")):
        page.set_viewport_size({"width": width, "height": 900})
        page.emulate_media(color_scheme=scheme)
        assert page.evaluate(WEIGHED) == [], (what, width, scheme)
        assert page.evaluate(ROOM) == 0, (what, width)
    page.set_viewport_size({"width": 720, "height": 450})  # 200 % of the first
    assert page.evaluate(ROOM) == 0, what
    page.set_viewport_size(before)
