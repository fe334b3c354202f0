"""The page Shops: an order from the form that came in to the parcel that went, as plain forms."""

from __future__ import annotations

import io
import re
import shutil
from dataclasses import replace
from html import unescape
from pathlib import Path

import openpyxl
import pypdf
import pytest

from labeler.app.book import BookRequest, make_order_sheet
from labeler.app.lots import hold_lot, story_of
from labeler.app.open_lots import BatchRequest, open_lot
from labeler.app.orders import OrderRequest, keep_order_of, orders_of, stories_of_orders
from labeler.app.shipping import ShipRequest, parcels_of, ship
from labeler.desk.jobs import JOBS
from labeler.desk.work import Records
from labeler.desk.worker import carry_out
from labeler.findings import Place, note
from tests.desk.conftest import ADDRESS, HOME, Browser, starter_in, words_of
from tests.desk.test_lots import SCRIPT, form

HERE, ELSEWHERE = "FST-38-40-MAR", "FST-12-50-MAR"
ROOM = f"/{ADDRESS.room}"
SHOP = "A Shop Near You"


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str, str]:
    """The starter's line with two lots of one product; and their codes, to be copied."""
    folder = starter_in(tmp_path_factory.mktemp("kept") / "line")
    first, second = (
        open_lot(BatchRequest(folder, HERE, count, materials=(f"hook=HK-{count}",))).lots[0].code
        for count in (12, 24)
    )
    return folder, first, second


@pytest.fixture
def line(kept: tuple[Path, str, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr("labeler.files._COARSE", 0)
    return Path(shutil.copytree(kept[0], tmp_path / "line"))


@pytest.fixture
def unhurried(monkeypatch: pytest.MonkeyPatch) -> None:
    """No process takes up what is asked for: a test does it itself."""
    monkeypatch.setattr("labeler.desk.work.Works._see_to", lambda works, number: None)


def an_order(line: Path, *lines: tuple[str, int], **rest: str) -> str:
    taken = keep_order_of(OrderRequest(line, lines=lines, dealer=SHOP, **rest))  # type: ignore[arg-type]
    assert taken.kept
    return taken.kept.number


def typed(page: str) -> dict[str, str]:
    """Return what stands in the fields of the order that was read."""
    start = page[page.index('orders/keep"') :]
    fields = re.findall(r'<input[^>]* name="([\w-]+)"[^>]* value="([^"]*)"', start)
    return {name: unescape(value) for name, value in fields
            if name not in ("customer", "again", "instead")}  # fmt: skip


def filled(line: Path, packs: dict[str, int], file: Path) -> bytes:
    """Return the line's own order form, filled in by another program."""
    made = make_order_sheet(BookRequest(line, file, dealer=SHOP))
    book = openpyxl.load_workbook(made.out)
    for row in book["Order"].iter_rows():
        if row[0].value in packs:
            row[-1].value = packs[str(row[0].value)]
    book.save(file)
    return file.read_bytes()


def test_a_form_that_is_dropped_is_read_put_on_record_once_and_served(
    browser: Browser, line: Path, kept: tuple[Path, str, str]
) -> None:
    sent = {"form": ("../../order.xlsx", filled(line, {HERE: 30, ELSEWHERE: 6}, line / "f.xlsx"))}
    page = browser.post("/shops/orders/read", 200, files=sent)
    words = words_of(page)
    assert "36 packs for" in words
    assert "30 can go today" in words
    assert "0 can go today, 6 short" in words
    fields = typed(page)
    assert fields["dealer"] == SHOP
    assert {fields[f"sku-{at}"]: fields[f"packs-{at}"] for at in (1, 2)} == {
        HERE: "30", ELSEWHERE: "6",
    }  # fmt: skip
    assert orders_of(line)[0] == []  # so far it was only read
    for sent_to in ("read", "keep"):  # an address that stays behind in the browser
        answer = browser.web.get(f"{HOME}/shops/orders/{sent_to}")
        assert (answer.status_code, answer.headers["location"]) == (303, f"{ROOM}/shops")

    place = browser.post("/shops/orders/keep", **fields, keep="1")
    number = orders_of(line)[0][0].number
    assert place == f"/shops/orders/{number}?done=new"
    again = typed(browser.post("/shops/orders/read", 200, files=sent))
    assert browser.post("/shops/orders/keep", **again, keep="1").endswith(f"{number}?done=known")
    again |= {"packs-2": "12", "once": "another"}
    place = browser.post("/shops/orders/keep", **again, keep="1")
    assert "correct it below" in words_of(browser.get(place))
    assert len(orders_of(line)[0]) == 1

    page = browser.get(f"/shops/orders/{number}")
    words = words_of(page)
    assert "30 of 36 packs can go today; 6 jigs are still to be tied." in words
    first, second = kept[1:]
    pulled = re.findall(r'name="lot-(\d+)" value="(\d+)"', page)
    assert pulled == [(first, "12"), (second, "18")]  # the oldest first
    assert re.search(rf'href="[^"]*/tonight\?n-{ELSEWHERE}=6"', page)
    assert f"/print?lot={first}%3D12&amp;lot={second}%3D18" in page
    tonight = browser.get(f"/tonight?n-{ELSEWHERE}=6")
    assert re.search(rf'name="n-{ELSEWHERE}" value="6"', tonight)
    words = words_of(browser.get("/shops"))
    assert "30 packs can go today, for 1 open order; 6 jigs still to be tied" in words


def test_every_fault_of_an_order_stands_beside_its_line(browser: Browser, line: Path) -> None:
    lines = f"{HERE} 6\nFST-38-40-MARX 6\nfirst pattern = 2\n{ELSEWHERE} = six\n2 doz"
    page = browser.post("/shops/orders/read", 422, lines=lines)
    for at, words in ((2, "Did you mean"), (3, "choose the one that is meant"), (4, "no quantity"),
                      (5, "no product has this SKU or name")):  # fmt: skip
        beside = words_of("<main" + page[page.index(f'id="said-{at}"') :])
        assert words in beside[:400], (at, beside[:400])
        assert re.search(rf'id="packs-{at}"[^>]*aria-invalid="true"', page), at
    assert 'id="said-1"' not in page
    assert f'<option value="{ELSEWHERE}">' in page[page.index('id="sku-3"') :]
    mended = typed(page) | {"sku-2": ELSEWHERE, "packs-2": "1 doz", "packs-3": "", "sku-3": ""}
    mended |= {"sku-4": "", "sku-5": ""}
    nobody = browser.post("/shops/orders/keep", 422, **mended, keep="1")
    assert re.search(r'id="dealer"[^>]*aria-invalid="true"', nobody)
    assert "--dealer" not in nobody
    mended = typed(nobody) | {"dealer": SHOP}
    browser.post("/shops/orders/keep", **mended, keep="1")
    assert orders_of(line)[0][0].reading.packs == {HERE: 6, ELSEWHERE: 12}


@pytest.mark.parametrize(
    ("said", "packs"),
    [
        ("3/8 marsh first pattern x 6", "6"), ("6 x marsh 3/8 oz first", "6"),
        ("first pattern marsh 3/8 6 pcs", "6 pcs"), ("first pattern marsh 3/8: 6", "6"),
        ("6 first pattern marsh 3/8", "6"), (f"{HERE} x6", "6"), ("1 doz marsh 3/8", "1 doz"),
        ("first pattern marsh 3/8", ""),
    ],
)  # fmt: skip
def test_a_line_is_understood_as_people_write_it(browser: Browser, said: str, packs: str) -> None:
    page = browser.post("/shops/orders/read", 200 if packs else 422, lines=said, dealer="Sample")
    assert f'name="packs-1" value="{packs}"' in page
    assert "First Pattern, Marsh 3/8 oz" in words_of(page)
    if packs:
        assert f"{'12' if 'doz' in packs else '6'} packs for" in words_of(page)


def test_the_nearest_products_are_chosen_by_a_click(browser: Browser) -> None:
    asked = {"dealer": "Sample", "sku-1": "first pattern swamp 3/8", "packs-1": "6"}
    page = browser.post("/shops/orders/keep", 422, **asked)
    assert f'name="pick-1" value="{HERE}"' in page
    assert words_of(page).count("Nearest") == 1
    page = browser.post("/shops/orders/keep", 200, **asked, **{"pick-1": HERE})
    assert f'name="sku-1" value="{HERE}"' in page
    assert 'name="pick-1"' not in page


def test_what_looks_like_an_order_on_record_is_asked_about(browser: Browser, line: Path) -> None:
    number = an_order(line, (HERE, 6), reference="PO 7")
    fields = {"dealer": SHOP, "order": "PO 7", "sku-1": HERE, "packs-1": "8", "keep": "1"}
    page = browser.post("/shops/orders/keep", 422, **fields)
    assert "--instead" not in page
    assert f'name="instead" value="{number}"' in page
    place = browser.post("/shops/orders/keep", **fields, instead=number)
    assert place == f"/shops/orders/{number}?done=changed"
    assert orders_of(line)[0][0].packs == 8
    fields |= {"packs-1": "9", "again": "1"}
    browser.post("/shops/orders/keep", **fields)
    assert [each.packs for each in orders_of(line)[0]] == [8, 9]
    page = browser.get(f"/shops/orders/{number}/correct")
    assert typed(page).items() >= {"order": "PO 7", "sku-1": HERE, "packs-1": "8"}.items()
    assert f'name="instead" value="{number}"' in page


def test_an_order_does_not_take_its_packs_from_its_own_correction(
    browser: Browser, line: Path
) -> None:
    number = an_order(line, (HERE, 30))
    page = browser.get(f"/shops/orders/{number}/correct")
    assert "30 can go today" in words_of(page)
    assert "promised" not in words_of(page)
    more = browser.post("/shops/orders/keep", 200, **typed(page) | {"packs-1": "40"},
                        instead=number)  # fmt: skip
    assert "36 can go today, 4 short" in words_of(more)
    assert "promised" not in words_of(more)
    later = an_order(line, (HERE, 10), reference="later")  # whoever came first still is first
    page = words_of(browser.get(f"/shops/orders/{later}/correct"))
    assert "6 can go today, 4 short" in page
    assert "30 promised to orders that came first" in page
    assert "30 can go today" in words_of(browser.get(f"/shops/orders/{number}/correct"))
    once_more = browser.post("/shops/orders/read", 200, lines=f"{HERE} 6", dealer=SHOP)
    assert "0 can go today, 6 short" in words_of(once_more)
    assert "36 promised" in words_of(once_more)


def test_what_is_promised_beyond_what_is_there_is_short(browser: Browser, line: Path) -> None:
    an_order(line, (HERE, 42))
    words = words_of(browser.get("/lots"))
    assert "42 promised, 6 short" in words
    assert "-6" not in words


LABEL = re.compile(r'<input type="checkbox" id="paper-address[-\d]*"[^>]*>')
"""The boxes that ask for an address label."""


@pytest.mark.usefixtures("unhurried")
def test_what_goes_nowhere_yet_asks_for_no_address_label(
    browser: Browser, line: Path, kept: tuple[Path, str, str]
) -> None:
    taken = keep_order_of(OrderRequest(line, lines=((HERE, 6),), customer="Some Body"))
    assert taken.kept
    number, first = taken.kept.number, kept[1]
    page = browser.get(f"/shops/orders/{number}")
    (box,) = LABEL.findall(page)
    assert " checked" not in box
    assert re.search(r'aria-describedby="address"', box)
    assert "Nobody said where it goes, so there is no address label." in words_of(page)
    correct = f"/shops/orders/{number}/correct?to=1"
    assert f'href="{ROOM}{correct}#address"' in page
    shown = browser.get(correct)
    assert re.search(r"<details open>\s*<summary>Their number, where it goes", shown)
    assert 'id="address"' in shown
    fields = {f"lot-{first}": "2", "sheet": "", "cell": "1"}
    refused = words_of(shipped(browser, line, number, "ab" * 8, **fields, **{"paper-address": "1"}))
    assert "on the order’s page, under “Correct it”" in refused
    assert "catalog.toml" not in refused
    assert parcels_of(line) == []
    shipped(browser, line, number, "cd" * 8, **fields, **{"paper-slip": "1"})
    assert len(parcels_of(line)) == 1
    boxes = LABEL.findall(browser.get(f"/shops/orders/{number}"))
    assert [" checked" in each for each in boxes] == [False, False]  # of what went, too

    place = browser.post("/shops/orders/keep", **typed(shown), keep="1", instead=number,
                         customer="1", address="12 Elm Street\nAlder Ferry, WI 54899")  # fmt: skip
    first_box = LABEL.findall(browser.get(place))[0]
    assert " checked" in first_box
    assert "describedby" not in first_box


def test_an_order_is_cancelled_with_its_reason(browser: Browser, line: Path) -> None:
    number = an_order(line, (HERE, 6))
    page = browser.post(f"/shops/orders/{number}/cancel", 422, why=" ")
    assert re.search(r'id="why"[^>]*aria-invalid="true"', page)
    browser.post(f"/shops/orders/{number}/cancel", why="the shop <b>closed</b>")
    page = browser.get(f"/shops/orders/{number}")
    assert "Cancelled: the shop &lt;b&gt;closed&lt;/b&gt;" in page
    assert "Ship it" not in page


def shipped(browser: Browser, line: Path, number: str, once: str, **fields: str) -> str:
    """Send the form of the order's page with these fields, and do the work."""
    fields = {"parcels": str(len(stories_of_orders(line, [number])[0].order.invoices))} | fields
    place = browser.post(f"/shops/orders/{number}/ship", once=once, **fields)
    carry_out(line, once)
    return browser.get(place)


@pytest.mark.siege
@pytest.mark.usefixtures("unhurried")
def test_a_parcel_goes_and_is_taken_back(
    browser: Browser, line: Path, kept: tuple[Path, str, str]
) -> None:
    number = an_order(line, (HERE, 30), ship_to="12 Elm Street\nAlder Ferry, WI 54899")
    first, second = kept[1:]
    nothing = browser.post(f"/shops/orders/{number}/ship", 422, **{f"lot-{first}": "0"})
    assert "nothing is moved" in words_of(nothing)
    refused = shipped(browser, line, number, "ab" * 8, **{f"lot-{first}": "12 maybe"})
    assert "Not done." in words_of(refused)
    back = browser.get(f"/shops/orders/{number}?again={'ab' * 8}", 422)
    assert re.search(rf'id="lot-{first}" name="lot-{first}" value="12 maybe"[^>]*invalid', back)

    lots = {f"lot-{first}": "12", f"lot-{second}": "6"}
    done = words_of(shipped(browser, line, number, "cd" * 8, **lots, note="six to come"))
    assert "18 packs went to" in done
    assert "12 packs of order" in done
    assert (story_of(line, first).story.on_hand, story_of(line, second).story.on_hand) == (0, 18)
    late = words_of(shipped(browser, line, number, "ef" * 8, parcels="0", **lots))
    assert "a parcel of this order went since" in late  # from a page that was shown before
    page = words_of(browser.get(f"/shops/orders/{number}"))
    assert "All 12 packs can go today." in page
    (parcel,) = parcels_of(line, dealer=SHOP)
    assert (parcel.count, parcel.taken_back, parcel.first.note) == (18, False, "six to come")
    assert parcel.number in browser.get("/shops")

    place = browser.post("/shops/parcel/back", slip=parcel.first.slip, order=number, note="no van")
    assert place == f"/shops/orders/{number}?done=back"
    assert "taken back as a mistake" in words_of(browser.get(place))
    assert (story_of(line, first).story.on_hand, story_of(line, second).story.on_hand) == (12, 24)
    assert parcels_of(line)[0].taken_back
    assert "taken back" in words_of(browser.get("/shops/parcels"))


def test_enter_in_a_field_only_shows(
    browser: Browser, line: Path, kept: tuple[Path, str, str]
) -> None:
    """A form is sent by its first button where no other is chosen (HTML Standard, 4.10.22.2)."""
    number = an_order(line, (HERE, 36))
    page = browser.get(f"/shops/orders/{number}")
    fields = filled_in(page) | {f"lot-{kept[1]}": "3", "note": "by van"}
    again = browser.post(
        f"/shops/orders/{number}/ship", 200, **fields, **first_button(page, "ship")
    )
    assert filled_in(again) == fields
    assert parcels_of(line) == []
    assert browser.desk.works.all() == []
    answer = browser.web.get(f"{HOME}/shops/orders/{number}/ship")
    assert answer.headers["location"] == f"{ROOM}/shops/orders/{number}"

    page = browser.post("/shops/orders/read", 200, lines=f"{ELSEWHERE} 6", dealer=SHOP)
    again = browser.post("/shops/orders/keep", 200, **typed(page), **first_button(page, "keep"))
    assert typed(again).items() >= {"sku-1": ELSEWHERE, "packs-1": "6"}.items()
    assert len(orders_of(line)[0]) == 1


def first_button(page: str, action: str) -> dict[str, str]:
    """Return what the first button of the form that is sent to an address sends itself."""
    sent = page[re.search(rf'<form [^>]*{action}"', page).start() :]  # type: ignore[union-attr]
    button = re.search(r"<button[^>]*>", sent)
    assert button
    assert "formaction" not in button[0]
    name = re.search(r'name="(\w+)" value="(\w+)"', button[0])
    return {name[1]: name[2]} if name else {}


def filled_in(page: str) -> dict[str, str]:
    """Return what stands in the fields of the form that ships."""
    return {
        name: unescape(value)
        for name, value in re.findall(
            r'name="(lot-\d+|other|other-count|day|note)"[^>]* value="([^"]*)"', page
        )
    }


@pytest.mark.usefixtures("unhurried")
def test_a_lot_that_was_left_out_stays_left_out(
    browser: Browser, line: Path, kept: tuple[Path, str, str]
) -> None:
    first, second = kept[1:]
    number = an_order(line, (HERE, 30))
    third = open_lot(BatchRequest(line, HERE, 6)).lots[0].code
    asked = {f"lot-{first}": "12", f"lot-{second}": "0", "other": third, "other-count": "6",
             "day": "2031-01-01", "note": "by van"}  # fmt: skip
    assert "Not done." in words_of(shipped(browser, line, number, "ab" * 8, **asked))
    back = filled_in(browser.get(f"/shops/orders/{number}?again={'ab' * 8}", 422))
    assert back == asked
    none = asked | {f"lot-{first}": "", "other": "", "other-count": ""}
    page = browser.post(f"/shops/orders/{number}/ship", 422, **none)
    assert "nothing is moved" in words_of(page)
    assert filled_in(page) == none | {f"lot-{first}": "0"}
    for odd in ({"other": "", "other-count": "6"}, {"other": "nonsense", "other-count": "6"}):
        once = f"{len(odd['other']):016x}"
        shipped(browser, line, number, once, **asked | odd)
        page = browser.get(f"/shops/orders/{number}?again={once}", 422)
        assert filled_in(page) == asked | odd
        assert re.search(r'id="other"[^>]*aria-invalid="true"', page)


@pytest.mark.usefixtures("unhurried")
def test_what_is_promised_goes_whole_and_on_no_odd_day(
    browser: Browser, line: Path, kept: tuple[Path, str, str]
) -> None:
    first, second = kept[1:]
    an_order(line, (HERE, 10))
    number = an_order(line, (HERE, 36), reference="later")
    ready = filled_in(browser.get(f"/shops/orders/{number}")) | {"ahead": "1"}
    assert ready[f"lot-{second}"] != "0"
    odd = ready | {"day": "2031-01-01"}
    assert "the day lies in the future" in words_of(shipped(browser, line, number, "ab" * 8, **odd))
    assert filled_in(browser.get(f"/shops/orders/{number}?again={'ab' * 8}", 422)).items() >= {
        f"lot-{first}": ready[f"lot-{first}"], "day": "2031-01-01",
    }.items()  # fmt: skip
    page = browser.post(f"/shops/orders/{number}/ship", 422, **ready | {f"lot-{second}": "0"})
    assert re.search(r'id="ahead"[^>]* checked aria-invalid="true"', page)
    assert filled_in(page)[f"lot-{second}"] == "0"
    assert parcels_of(line) == []
    assert "36 packs went to" in words_of(shipped(browser, line, number, "cd" * 8, **ready))


@pytest.mark.siege
@pytest.mark.usefixtures("unhurried")
def test_what_is_promised_or_held_does_not_go_by_itself(
    browser: Browser, line: Path, kept: tuple[Path, str, str]
) -> None:
    first, second = kept[1:]
    hold_lot(line, second, "hooks snap")
    an_order(line, (HERE, 10))
    number = an_order(line, (HERE, 6), reference="later")
    page = browser.get(f"/shops/orders/{number}")
    assert "10 promised to orders that came first; 24 held" in words_of(page)
    assert re.findall(r'name="lot-(\d+)" value="(\d+)"', page) == [(first, "2")]
    held = shipped(browser, line, number, "ab" * 8, other=second, **{"other-count": "4"})
    assert "this lot is held" in words_of(held)
    assert "--" not in words_of(held)
    assert "18 packs" not in shipped(browser, line, number, "cd" * 8, ahead="1")
    story = stories_of_orders(line, [number])[0]
    assert (story.order.gone, story.order.open) == (6, 0)
    assert "what was promised to orders that came first" in words_of(
        browser.get(f"/work/{'cd' * 8}")
    )


@pytest.mark.siege
@pytest.mark.usefixtures("unhurried")
def test_what_comes_and_goes_without_an_order(
    browser: Browser, line: Path, kept: tuple[Path, str, str]
) -> None:
    first, _ = kept[1:]

    def sent(once: str, **fields: str) -> str:
        place = browser.post("/shops/send/it", once=once, **fields)
        carry_out(line, once)
        return words_of(browser.get(place))

    assert f"3 jigs of lot {first} were thrown away" in sent(
        "ab" * 8, way="scrap", lines=f"{first} 3"
    )
    assert "looks like a slip" in sent(
        "bc" * 8, way="to", name="A Shop Nere You", lines=f"{first} 2"
    )
    page = browser.get(f"/shops/send?again={'bc' * 8}", 422)
    assert re.search(r'id="name"[^>]*aria-invalid="true"', page)
    assert f"{first} = 2" in page
    assert "hook broke" not in sent("cd" * 8, way="scrap", lines=f"{first} 3")
    page = browser.get(f"/shops/send?again={'cd' * 8}", 422)
    assert "--again" not in page
    assert 'name="again"' in page
    assert story_of(line, first).story.on_hand == 9


def test_numbers_that_are_out_are_noted(browser: Browser, line: Path) -> None:
    page = browser.post("/shops/lost", 422, lost="2600019")
    assert re.search(r'id="lost"[^>]*aria-invalid="true"', page)
    assert browser.post("/shops/lost", lost="2600042") == "/shops?done=lost"
    assert an_order(line, (HERE, 6)) == "2600059"


@pytest.mark.siege
def test_no_name_and_no_file_of_a_stranger_becomes_markup_or_a_path(
    browser: Browser, line: Path
) -> None:
    text = (line / "catalog.toml").read_text("utf-8")
    assert f'name = "{SHOP}"' in text
    name = f"{SCRIPT[:-1]} shop"
    (line / "catalog.toml").write_text(text.replace(f'"{SHOP}"', f"'''{name}'''"), "utf-8")
    whole = {"lines": ((HERE, 6),), "note": SCRIPT, "reference": SCRIPT[:60]}
    taken = keep_order_of(OrderRequest(line, dealer=name, **whole))  # type: ignore[arg-type]
    assert taken.kept
    lots = stories_of_orders(line, [taken.kept.number])[0].portions[0].lots
    ship(ShipRequest(line, "ship", (lots[0],), name, note=SCRIPT))
    slip = parcels_of(line)[0].first.slip
    odd = "..%2f..%2fetc%2fpasswd"
    for path in ("/shops", "/shops/orders", "/shops/parcels", f"/shops/orders/{taken.kept.number}",
                 f"/shops/orders/{taken.kept.number}/correct", f"/shops/parcel?slip={slip}",
                 f"/shops/shop?name={SCRIPT}", "/shops/send?lot=<script>alert(1)</script>",
                 f"/shops/orders/{odd}", f"/shops/parcel?slip={odd}", f"/shops/shop?name={odd}",
                 f"/shops?done={odd}", f"/shops/orders?page={odd}",
                 f"/shops/parcels?page={'9' * 5_000}", f"/shops/send?again={odd}",
                 "/shops/orders/<script>alert(1)</script>"):  # fmt: skip
        answer = browser.web.get(HOME + path)
        assert answer.status_code in (200, 400, 404, 422), (path, answer.text)
        assert "<script>alert" not in answer.text, path
        assert "<img src=x" not in answer.text, path
        assert "passwd:" not in answer.text
    page = browser.post("/shops/orders/read", 422, lines=f"{SCRIPT} = {SCRIPT}", dealer=SCRIPT)
    assert "<script>alert" not in page


def test_a_file_that_is_no_form_is_told_and_too_much_is_refused(browser: Browser) -> None:
    for name, data in (("<script>alert(1)</script>.pdf", b"%PDF-1.7"), ("a.xlsx", b"PK\3\4"),
                       ("a.csv", b"SKU,packs\n"), ("a.pdf", b"\0" * 5_000)):  # fmt: skip
        page = browser.post("/shops/orders/read", 422, files={"form": (name, data)})
        assert re.search(r'id="form"[^>]*aria-invalid="true"', page)
        assert "<script>alert" not in page
    browser.post("/shops/orders/read", 400, files=[("form", ("a", b"a")), ("form", ("b", b"b"))])
    browser.post("/shops/orders/read", 413, files={"form": ("a.pdf", b"%PDF-" + b"0" * 25_200_000)})
    browser.post("/shops/orders/keep", 413, **{"sku-1": "x" * 300_000})


def test_the_price_list_alone_has_twice_the_dealer_price_where_that_is_asked_for(
    browser: Browser, line: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("labeler.desk.work.Works._see_to", lambda works, number: None)
    hidden = form(browser.get(f"/shops/shop?name={SHOP}"), "/shops/book")
    place = browser.post("/shops/book", **hidden, make="book", prices="1", keystone="1")
    carry_out(line, hidden["once"])
    assert "Price list" in words_of(browser.get(place))
    read = pypdf.PdfReader(io.BytesIO(browser.web.get(f"{HOME}{place}/file/0").content))
    assert len(read.pages) == 1
    assert "KEYSTONE" in "".join(read.pages[0].extract_text().upper().split())


def test_the_order_form_alone_is_a_paper_of_the_desk_s(
    browser: Browser, line: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("labeler.desk.work.Works._see_to", lambda works, number: None)
    page = browser.get(f"/shops/shop?name={SHOP}")
    assert "A page for each pattern, the price list at their prices" in words_of(page)
    hidden = form(page, "/shops/book")
    place = browser.post("/shops/book", **hidden, make="form")
    carry_out(line, hidden["once"])
    assert "Done." in words_of(browser.get(place))
    answer = browser.web.get(f"{HOME}{place}/file/0")
    assert answer.headers["content-type"].endswith("spreadsheetml.sheet")
    assert browser.post("/shops/orders/read", 422, files={"form": ("f.xlsx", answer.content)})
    assert {"book", "order-form", "ship-order", "wall-sheet"} <= set(JOBS)

    hidden = form(browser.get(f"/shops/shop?name={SHOP}"), "/shops/book")
    browser.post("/shops/book", **hidden, make="look", only="FST-*, nothing-1", day="2027-01-02")
    carry_out(line, hidden["once"])
    page = browser.get(f"/shops/shop?again={hidden['once']}", 422)
    assert re.search(
        r'id="only"[^>]*value="FST-\*, nothing-1"[^>]*aria-invalid="true"', page, re.DOTALL
    )
    assert 'name="even_so"' not in page
    refused = browser.desk.works.find(hidden["once"])
    assert refused
    not_passed = note("not-passed", Place(), "the finished file was read back")
    Records(line).write(replace(refused, findings=(not_passed,)))
    page = browser.get(f"/shops/shop?again={hidden['once']}", 422)
    assert 'name="even_so"' in page  # what was made and is not handed out can be, all the same
