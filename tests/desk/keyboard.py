"""The desk as one uses it who has a keyboard and no mouse: what browser tests press and type.

Each way to a thing is gone key by key, and is a fault where the focus can't be seen (WCAG 2.1,
2.4.7), does not follow the order of the page (2.4.3), or does not get out of a thing again (2.1.2).
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

_WHERE = """
() => {
  const on = document.activeElement;
  const before = window.before;
  window.before = on;
  const grown = window.tall !== (window.tall = document.documentElement.scrollHeight);
  if (!on || on === document.body || on === document.documentElement) return null;
  const known = (window.reached ??= new Map());
  if (!known.has(on)) known.set(on, known.size);
  const words = (one, left_out) => {
    const copy = left_out && one.querySelector(left_out) ? one.cloneNode(true) : one;
    if (copy !== one) copy.querySelectorAll(left_out).forEach((part) => part.remove());
    return copy.textContent.replace(/\\s+/g, " ").trim();
  };
  const named = on.labels?.[0] ?? on;
  const style = getComputedStyle(on);
  const line = on instanceof SVGElement && getComputedStyle(on.firstElementChild).strokeWidth;
  const box = on.getBoundingClientRect();
  return {
    number: known.get(on),
    names: [words(named), words(named, ".unseen"), on.getAttribute("aria-label"), on.name, on.id],
    ringed: (style.outlineStyle !== "none" && parseFloat(style.outlineWidth) > 0)
      || style.boxShadow !== "none"
      || (on.type === "date" && !on.matches(":focus"))  // its calendar, ringed by the browser
      || parseFloat(line) >= 2,
    within: grown || box.width > 0 && box.height > 0 && box.bottom > 0 && box.top < innerHeight
      && box.right > 0 && box.left < innerWidth,
    back: Boolean(before?.isConnected && before !== on && before !== document.body
      && before.compareDocumentPosition(on) & Node.DOCUMENT_POSITION_PRECEDING),
    first: on.matches(".skip"),
    html: on.outerHTML.slice(0, 160),
  };
}
"""
"""What has the focus, how it is called, and whether it is seen; null where nothing has it.

Where the page has grown meanwhile, as by what a script was told, it may lie outside the window.
"""

STOPS = 6
"""Stops that one field may have: a date's are its year, month and day, and its calendar."""


def tab_to(page: Any, name: str) -> None:
    """Hold Tab down until what is called so has the focus; what has it already is not left.

    Args:
        page: any page of a desk.
        name: of a field its label, of a link or button its words, with or without those that only
            a screen reader reads out; or, where several are called alike, its name or id.

    Raises:
        AssertionError: if no way leads there, or the focus was not seen or not let go on the way.
    """
    now = page.evaluate(_WHERE)
    passed: list[int | None] = [now and now["number"]]
    while not (now and name in now["names"]):
        page.keyboard.down("Tab")  # held, and so repeated
        now = page.evaluate(_WHERE)
        number = now and now["number"]
        if number != passed[-1]:
            assert number not in passed, f"no way to {name}"
        passed.append(number)
        assert len(set(passed[-STOPS:])) > 1 or len(passed) < STOPS, f"held fast at {now}"
        if now:
            assert now["ringed"], f"the focus is not seen at {now['html']}"
            assert now["within"], f"the focus is outside the window at {now['html']}"
            assert now["first"] or not now["back"], f"the order goes back to {now['html']}"
    page.keyboard.up("Tab")


def wait_at(page: Any, name: str) -> None:
    """Wait until what is called so was given the focus, by the page itself.

    Raises:
        AssertionError: if it was not, within ten seconds.
    """
    for _ in range(200):
        now = page.evaluate(_WHERE)
        if now and name in now["names"]:
            return
        page.wait_for_timeout(50)
    raise AssertionError(f"the focus is not at {name}, but at {now}")


def press(page: Any, name: str, key: str = "Enter") -> None:
    """Go to a link, a button or a tick, and press it."""
    tab_to(page, name)
    page.keyboard.press(key)


def write(page: Any, name: str, text: str) -> None:
    """Go to a field and type a text in the place of what it holds."""
    tab_to(page, name)
    page.keyboard.press("Control+a")
    page.keyboard.press("Delete")
    page.keyboard.type(text)


def choose(page: Any, name: str, words: str) -> None:
    """Go to a list and type what is to be chosen of it, as far as the list asks for it."""
    tab_to(page, name)
    chosen = "document.activeElement.selectedOptions[0].textContent.trim()"
    page.keyboard.type(words)
    assert page.evaluate(chosen) == words


def choose_files(page: Any, name: str, files: Sequence[Path]) -> None:
    """Go to a field of files, open the window that asks for them, and choose."""
    tab_to(page, name)
    with page.expect_file_chooser() as asked:
        page.evaluate("0")  # a key gets there by another way, and may overtake the asking
        page.keyboard.press("Enter")
    asked.value.set_files([str(file) for file in files])
