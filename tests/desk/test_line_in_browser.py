"""A recipe is changed in a real browser, as a person does it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.desk.conftest import served, starter_in
from tests.desk.test_in_browser import opened

pytestmark = pytest.mark.siege


def test_a_recipe_is_edited_the_figure_changes_and_it_is_undone(
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
    page.goto(address.partition("?")[0] + "line")
    page.click("text=Marsh")
    page.wait_for_selector("#jig svg")
    count = "document.querySelectorAll('#jig svg path').length"
    paths = page.evaluate(count)
    with page.expect_response("**/line/color/draw"):
        page.fill("[name='layers.1.strands']", "24")
    while page.evaluate(count) == paths:
        page.wait_for_timeout(50)
    assert file.read_text("utf-8") == before, "it is only drawn"
    page.click("text=Add a layer")
    page.wait_for_selector("[name='layers.2.shade']")
    page.fill("[name='layers.2.shade']", "rust")
    page.fill("[name='layers.2.ink']", "#aa3311")
    page.wait_for_selector(
        "#jig svg [fill='#aa3311'], #jig svg [stroke='#aa3311']", state="attached"
    )
    page.click("text=Save >> nth=0")
    page.wait_for_selector("text=It is written.")
    after = file.read_text("utf-8").splitlines()
    gone = [line for line in before.splitlines() if line not in after]
    new = [line for line in after if line not in before.splitlines()]
    assert len(gone) == 1
    assert len(new) == 2
    assert new[0] == gone[0].replace("strands = 11", "strands = 24")
    assert "rust" in new[1]
    page.click("text=Undo")
    page.wait_for_selector("text=It is as it was.")
    assert file.read_text("utf-8") == before
    assert page.input_value("[name='layers.1.strands']") == "11"
    assert said == []
    page.context.close()
