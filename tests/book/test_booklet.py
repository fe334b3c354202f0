"""A booklet's sheets held against the order in which printers lay out saddle-stitched pages."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pikepdf
import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.app.book import BookMade
from labeler.findings import LabelerError
from labeler.press.pdf.book import THICKNESS, folded, saddle_order
from tests.unread import unread

PUBLISHED = {
    # The printer's spreads of saddle-stitched work, outside and inside of each sheet from the
    # outermost, as printers' guides to imposition list them (common practice; from memory).
    4: [(4, 1), (2, 3)],
    8: [(8, 1), (2, 7), (6, 3), (4, 5)],
    12: [(12, 1), (2, 11), (10, 3), (4, 9), (8, 5), (6, 7)],
    16: [(16, 1), (2, 15), (14, 3), (4, 13), (12, 5), (6, 11), (10, 7), (8, 9)],
    20: [(20, 1), (2, 19), (18, 3), (4, 17), (16, 5), (6, 15), (14, 7), (8, 13), (12, 9), (10, 11)],
}  # fmt: skip


@pytest.mark.daily
@pytest.mark.parametrize(("pages", "order"), PUBLISHED.items())
def test_pages_lie_as_printers_lay_them(pages: int, order: list[tuple[int, int]]) -> None:
    assert saddle_order(pages) == order


def fold(sides: list[tuple[int | None, int | None]]) -> list[int | None]:
    """Return the pages in the order in which one turns them, once the stack is folded."""
    fronts, backs = sides[::2], sides[1::2]
    first: list[int | None] = []
    last: list[int | None] = []
    for (outer_left, outer_right), (inner_left, inner_right) in zip(fronts, backs, strict=True):
        first += [outer_right, inner_left]
        last = [inner_right, outer_left, *last]
    return first + last


@pytest.mark.daily
@given(st.integers(1, 60).map(lambda sheets: sheets * 4))
def test_folding_the_sheets_gives_the_pages_in_their_order(pages: int) -> None:
    sides: list[tuple[int | None, int | None]] = list(saddle_order(pages))
    assert fold(sides) == list(range(1, pages + 1))


@pytest.mark.daily
@given(st.integers(4, 200))
def test_blank_pages_stand_before_the_last_which_is_the_back_cover(pages: int) -> None:
    sides = folded(pages)
    turned = fold([(side.left, side.right) for side in sides])
    assert [page for page in turned if page] == list(range(1, pages + 1))
    assert turned[0] == 1
    assert turned[-1] == pages
    assert len(turned) - pages < 4


@pytest.mark.daily
def test_each_sheet_within_is_moved_to_the_fold_by_one_thickness_more() -> None:
    creeps = [side.creep for side in folded(16)]
    assert creeps == [step * THICKNESS for step in (0, 0, 1, 1, 2, 2, 3, 3)]


@pytest.mark.daily
@pytest.mark.parametrize("pages", [0, 3, 6, 10])
def test_other_numbers_of_pages_are_refused(pages: int) -> None:
    with pytest.raises(ValueError, match="multiple of four"):
        saddle_order(pages)


@pytest.fixture(scope="module")
def booklet(
    tmp_path_factory: pytest.TempPathFactory, make: Callable[..., BookMade], demo_folder: Path
) -> Path:
    out = tmp_path_factory.mktemp("booklet") / "booklet.pdf"
    with unread():
        made = make(
            demo_folder, out, audience="retail", booklet=True, only=("reedmace", "loonlight")
        )
    assert made.pages > 8
    return out


@pytest.mark.daily
def test_a_price_list_of_two_pages_is_no_booklet(
    demo_folder: Path, make: Callable[..., BookMade], tmp_path: Path
) -> None:
    assert min(n for n in range(1, 40) if all(s.left or s.right for s in folded(n))) == 3
    out = tmp_path / "list.pdf"
    with pytest.raises(LabelerError, match="too little for a booklet"):
        make(demo_folder, out, audience="retail", booklet=True, prices=True)
    assert not list(tmp_path.iterdir())


@pytest.mark.siege
def test_the_folios_on_each_side_are_those_of_the_plan(booklet: Path) -> None:
    document = pypdfium2.PdfDocument(booklet)
    pages = len(document) * 2
    for number, side in enumerate(document):
        width, _ = side.get_size()
        text = side.get_textpage()
        order = saddle_order(pages)[number]
        for page, left in zip(order, (0, width / 2), strict=True):
            foot = text.get_text_bounded(left=left, right=left + width / 2, bottom=14, top=34)
            # covers bear no number, and blank pages nothing at all
            assert foot.strip() in (str(page), ""), (page, foot)
    document.close()


def test_a_sheet_is_letter_paper_lying(booklet: Path) -> None:
    with pikepdf.open(booklet) as document:
        assert [float(x) for x in document.pages[0].MediaBox] == [0, 0, 792, 612]


def test_for_a_print_shop_boxes_lie_within_one_another_and_marks_outside(
    tmp_path: Path, make: Callable[..., BookMade], demo_folder: Path
) -> None:
    out = tmp_path / "bleed.pdf"
    with unread():
        make(demo_folder, out, audience="retail", bleed=True, only=("reedmace",))
    with pikepdf.open(out) as document:
        for page in document.pages:
            media, bleed, trim = (
                [float(x) for x in page[name]] for name in ("/MediaBox", "/BleedBox", "/TrimBox")
            )
            assert trim[2] - trim[0] == pytest.approx(612)
            assert trim[3] - trim[1] == pytest.approx(792)
            assert trim[0] - bleed[0] == pytest.approx(9)  # an eighth of an inch
            assert media[0] < bleed[0]
            assert bleed[2] < media[2]
