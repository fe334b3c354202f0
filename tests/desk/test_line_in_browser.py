"""A recipe is changed in a real browser, by keyboard alone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.desk.conftest import served, starter_in
from tests.desk.keyboard import choose, press, wait_at, write
from tests.desk.test_in_browser import opened

pytestmark = pytest.mark.siege


def test_a_recipe_is_edited_the_figure_changes_and_it_is_undone_by_keyboard_alone(
    chromium: Any, tmp_path: Path
) -> None:
    """The file keeps its comments byte for byte; undone, all of it."""
    line = starter_in(tmp_path / "line")
    with served(line) as address:
        _edited(chromium, address, line / "catalog.toml")


def _edited(chromium: Any, address: str, file: Path) -> None:
    before = file.read_text("utf-8")
    said: list[str] = []
    page = opened(chromium, address, said)
    press(page, "Line")
    page.wait_for_url("**/line")
    press(page, "Marsh")
    page.wait_for_selector("#jig svg")
    count = "document.querySelectorAll('#jig svg path').length"
    paths = page.evaluate(count)
    with page.expect_response("**/line/color/draw"):
        write(page, "layers.1.strands", "24")
    while page.evaluate(count) == paths:
        page.wait_for_timeout(50)
    assert file.read_text("utf-8") == before, "it is only drawn"
    press(page, "Add a layer")
    wait_at(page, "layers.2.strands")
    write(page, "layers.2.shade", "rust")
    write(page, "layers.2.ink", "#aa3311")
    page.wait_for_selector(
        "#jig svg [fill='#aa3311'], #jig svg [stroke='#aa3311']", state="attached"
    )
    choose(page, "layers.2.seat", "back")
    layers = "[...document.querySelectorAll('[name$=shade]')].map((one) => one.value)"
    press(page, "Tie it earlier: layer 3")  # and it is the same button again, of the layer above
    wait_at(page, "Tie it earlier: layer 2")
    page.keyboard.press("Enter")
    wait_at(page, "layers.0.strands")
    assert page.evaluate(layers) == ["rust", "green pumpkin", "brown, orange tip"]
    press(page, "Add a layer")
    wait_at(page, "layers.3.strands")
    press(page, "Take it out: layer 4")  # the one before it has the focus then
    wait_at(page, "layers.2.strands")
    press(page, "Save")
    page.wait_for_selector("text=It is written.")
    after = file.read_text("utf-8").splitlines()
    gone = [line for line in before.splitlines() if line not in after]
    new = [line for line in after if line not in before.splitlines()]
    assert len(gone) == 1
    assert len(new) == 2
    assert "rust" in new[0]
    assert 'seat = "back"' in new[0]
    assert new[1] == gone[0].replace("strands = 11", "strands = 24")
    press(page, "Undo")
    page.wait_for_selector("text=It is as it was.")
    assert file.read_text("utf-8") == before
    assert page.input_value("[name='layers.1.strands']") == "11"
    assert said == []
    page.context.close()
