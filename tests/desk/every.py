"""Every place of the desk's pages, so that one that is added is held without being named."""

from __future__ import annotations

import re
from collections.abc import Mapping
from html import unescape
from typing import Any

from labeler.desk.application import PAGES
from labeler.desk.page import PageRoute
from tests.desk.conftest import HOME, ORIGIN, Browser

PLACES: tuple[PageRoute, ...] = tuple(place for page in PAGES for place in page.places)
SHOWN: tuple[PageRoute, ...] = tuple(place for place in PLACES if not place.post)
SENT: tuple[PageRoute, ...] = tuple(place for place in PLACES if place.post)

_PART = re.compile(r"\{(\w+)(?::\w+)?\}")


def parts_of(place: PageRoute) -> list[str]:
    """Return the names of the parts of a place's path."""
    return _PART.findall(place.path)


def address(place: PageRoute, known: Mapping[str, str], other: str = "1") -> str:
    """Return the address of a place.

    Args:
        place: with names in its path.
        known: what stands for a name; for one in a certain path by both, such as ``/work number``.
        other: what stands for a name that is not known.
    """
    first = "/" + place.path.split("/")[1]

    def part(found: re.Match[str]) -> str:
        return known.get(f"{first} {found[1]}", known.get(found[1], other))

    return _PART.sub(part, place.path)


class Walk:
    """Every page of a desk that has something to show, as a browser gets it.

    Args:
        browser: that was let in.
        known: what stands for the names in paths, as `address` takes it.
    """

    def __init__(self, browser: Browser, known: Mapping[str, str]) -> None:
        self.pages: dict[str, str] = {}
        for place in SHOWN:
            self._look(browser.web.get(HOME + address(place, known)), place.path)
        for place in SENT:  # with nothing filled in: what is wrong stands on the page
            sent = browser.web.post(HOME + address(place, known), headers={"Origin": ORIGIN})
            self._look(sent, f"{place.path} with nothing")

    def _look(self, answer: Any, name: str) -> None:
        assert answer.status_code < 500, (name, answer.text)
        if answer.headers.get("content-type", "").startswith("text/html") and answer.text:
            self.pages[name] = answer.text

    @property
    def fields(self) -> set[str]:
        """The names of all fields."""
        found = (re.findall(r'\bname="([^"]+)"', page) for page in self.pages.values())
        return {unescape(name) for names in found for name in names} - {"viewport", "color-scheme"}
