"""What is typed into a form and not sent is kept until it is, for every form of the desk."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from labeler.desk.drafts import Drafts
from tests.desk.conftest import ADDRESS, Browser, demo_in, served
from tests.desk.test_in_browser import opened

ONE, OTHER = "RM-14-30-SBR", "GB-12-40-PEA"


def kept(browser: Browser, form: str, **fields: object) -> dict[str, str]:
    """Return what is kept of a form, as its script asks."""
    asked = {"draft-form": f"/{ADDRESS.room}{form}"} | fields
    answer = browser.web.post(browser._url("/draft/find"), data=asked, headers=browser.own)
    return dict(answer.json()["fields"]) if answer.status_code == 200 else {}


def keep(browser: Browser, form: str, **fields: object) -> None:
    browser.post("/draft", 204, **({"draft-form": f"/{ADDRESS.room}{form}"} | fields))


def test_what_is_typed_is_kept_until_the_form_is_taken(
    browser: Browser, line: Path, unhurried: None
) -> None:
    assert 'data-drafts=""' in browser.get("/tonight")
    keep(browser, "/tonight/tie", **{f"n-{ONE}": "24", "note": "wet", "once": "1", "sure": "1"})
    assert f'data-drafts="/{ADDRESS.room}/tonight/tie"' in browser.get("/tonight")
    assert kept(browser, "/tonight/tie") == {f"n-{ONE}": "24", "note": "wet"}
    browser.post("/tonight/tie", 422, **{f"n-{ONE}": "twelve"})
    assert kept(browser, "/tonight/tie")  # nothing was taken
    browser.post("/tonight/look", 200, **{f"n-{ONE}": "24"})
    assert kept(browser, "/tonight/tie")
    again = Browser(line)  # the desk was closed and opened again
    assert kept(again, "/tonight/tie")["note"] == "wet"
    again.desk.close()
    browser.post("/tonight/tie", 303, **{f"n-{ONE}": "24", "sheet": "letter-3x10"})
    assert kept(browser, "/tonight/tie") == {}
    assert 'data-drafts=""' in browser.get("/tonight")


def test_forms_of_one_address_are_told_apart_by_what_they_are_about(browser: Browser) -> None:
    keep(browser, "/line/entry", table="hooks", of="flat-eye", name="one")
    keep(browser, "/line/entry", table="heads", of="arky", name="two")
    assert kept(browser, "/line/entry", table="hooks", of="flat-eye")["name"] == "one"
    browser.post("/draft/drop", 204, table="hooks", of="flat-eye", **{
        "draft-form": f"/{ADDRESS.room}/line/entry",
    })  # fmt: skip
    assert kept(browser, "/line/entry", table="hooks", of="flat-eye") == {}
    assert kept(browser, "/line/entry", table="heads", of="arky")["name"] == "two"


def test_an_order_on_record_is_not_offered_again_as_it_was_typed(browser: Browser) -> None:
    keep(browser, "/shops/orders/read", dealer="Landing", lines=f"{ONE} = 6")
    browser.post("/shops/orders/read", 200, dealer="Landing", lines=f"{ONE} = 6")
    assert kept(browser, "/shops/orders/read")
    browser.post("/shops/orders/keep", 303, **{
        "dealer": "Somebody", "customer": "1", "sku-1": ONE, "packs-1": "6", "keep": "1",
    })  # fmt: skip
    assert kept(browser, "/shops/orders/read") == {}


def test_a_broken_draft_is_none_and_old_ones_go(tmp_path: Path) -> None:
    drafts = Drafts(tmp_path)
    drafts.keep("/one", {"name": ["1", "2"]}, ["box", "sure"])
    (file,) = (tmp_path / ".desk/drafts").glob("*.json")
    found = drafts.find("/one", {})
    assert found is not None
    assert (found.fields, found.off) == ((("name", "1"), ("name", "2")), ("box",))
    for broken in ("", "[]", json.dumps({"fields": [1]}), "null"):
        file.write_text(broken)
        assert drafts.find("/one", {}) is None
        assert drafts.forms() == []
    for number in range(50):
        drafts.keep(f"/form/{number}", {}, ())
    assert len(drafts.forms()) == 40


@pytest.mark.siege
def test_counts_and_a_layer_outlast_another_page(chromium: Any, tmp_path: Path) -> None:
    """In a browser, by its own clicks: filled in again, left out, and gone once it was sent."""
    line = demo_in(tmp_path / "line")
    with served(line) as address:
        page = opened(chromium, address, [])
        page.fill(f"[name='n-{ONE}']", "24")
        page.fill("#note", "wet")
        page.click("nav >> text=Lots")
        page.click("nav >> text=Tonight")
        page.wait_for_selector(".draft:has-text('filled in again')")
        assert (page.input_value(f"[name='n-{ONE}']"), page.input_value("#note")) == ("24", "wet")
        page.wait_for_selector("#understood table")
        with page.expect_navigation():
            page.click("text=Leave it out")
        page.wait_for_load_state("networkidle")
        assert page.locator(".draft").count() == 0
        assert page.input_value("#note") == ""
        page.click("nav >> text=Line")
        href = page.eval_on_selector("a[href*='line/color?of']", "a => a.href")
        page.goto(href)
        count = page.locator("fieldset.layer").count()
        page.click("text=Add a layer")
        page.wait_for_selector(f"#layer-{count}")
        for name, text in (("strands", "7"), ("shade", "smoke")):
            page.fill(f"[id='layers.{count}.{name}']", text)
        with page.expect_navigation():
            page.click("nav >> text=Lots")
        page.wait_for_load_state("networkidle")  # what was typed is sent while the page is left
        page.goto(href)
        page.click("text=Fill it in again")
        page.wait_for_selector(f"#layer-{count}")
        assert page.input_value(f"[id='layers.{count}.shade']") == "smoke"
        page.click(".shown button:has-text('Save')")
        page.wait_for_selector(".done")
        page.goto(href)
        page.wait_for_load_state("networkidle")
        assert page.locator("fieldset.layer").count() == count + 1
        assert page.locator(".draft").count() == 0
