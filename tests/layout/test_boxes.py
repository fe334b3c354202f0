"""Rows and columns share out space exactly; nothing overlaps, leaves its box or is dropped."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labeler.disclosures.rules import Confidence, Kind
from labeler.disclosures.statements import Form, Run, Statement
from labeler.findings import Finding
from labeler.layout.marks import Code, Glyphs, Group, Path, Piece, spots, under

Lay = Callable[..., Piece]
Faults = Callable[..., tuple[Finding, ...]]
Box = tuple[float, float, float, float]


def boxes(piece: Piece) -> list[Box]:
    """Return the boxes of a front's paths, grounds here."""
    found = []
    for mark in piece.faces[0].marks:
        if isinstance(mark, Path):
            xs, ys = zip(*spots(mark), strict=True)
            found.append((min(xs), min(ys), max(xs), max(ys)))
    return found


def near(box: Box, wanted: Box) -> bool:
    return box == pytest.approx(wanted, abs=0.01)


def test_shares_divide_what_is_left(lay: Lay) -> None:
    piece = lay(
        '<row share="1" gap="4pt"><column width="40pt" ground="#111111"/>'
        '<column share="1" ground="#222222"/><column share="3" ground="#333333"/></row>'
    )
    assert near(boxes(piece)[0], (0, 0, 40, 100))
    assert near(boxes(piece)[1], (44, 0, 44 + 38, 100))
    assert near(boxes(piece)[2], (86, 0, 200, 100))


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(st.tuples(st.sampled_from(["width", "share"]), st.integers(1, 30)), min_size=1,
             max_size=5),
    st.integers(0, 6),
)  # fmt: skip
def test_a_row_is_filled_without_overlap(lay: Lay, parts: list[tuple[str, int]], gap: int) -> None:
    inner = "".join(
        f'<column {kind}="{n}{"pt" if kind == "width" else ""}" ground="#111111"/>'
        for kind, n in parts
    )
    piece = lay(f'<row share="1" gap="{gap}pt">{inner}</row>')
    found = boxes(piece)
    assert len(found) == len(parts)
    for left, right in pairwise(found):
        assert right[0] == pytest.approx(left[2] + gap, abs=0.01)
    for (kind, n), box in zip(parts, found, strict=True):
        if kind == "width":
            assert box[2] - box[0] == pytest.approx(n, abs=0.01)
    if any(kind == "share" for kind, _ in parts):
        assert found[-1][2] == pytest.approx(200, abs=0.01)


def test_a_ground_at_the_edge_goes_on_into_the_bleed(lay: Lay) -> None:
    piece = lay(
        '<piece bleed="9pt"><front><column height="30pt" ground="#112233"/></front></piece>',
        whole=True,
    )
    assert near(boxes(piece)[0], (-9, -9, 209, 30))


def test_a_turned_panel_stands_on_its_head_in_its_own_place(lay: Lay) -> None:
    piece = lay(
        '<column height="50pt" turn="180" pad="4pt"><text most="10pt" least="10pt">up</text>'
        "</column>"
        '<column height="50pt"/>'
    )
    (group,) = (m for m in piece.faces[0].marks if isinstance(m, Group))
    (run,) = (m for m in group.marks if isinstance(m, Glyphs))
    left, top, right, bottom = under(group.matrix, (run.x, run.y - 7, run.x + run.width, run.y))
    assert right == pytest.approx(196, abs=0.1)
    assert 30 < top < bottom < 47
    assert left > 100


def test_a_hole_is_drawn_as_a_die_line_and_kept_clear(lay: Lay, faults: Faults) -> None:
    piece = lay('<hole shape="round" across="18pt" top="13.5pt"/>')
    (hole,) = piece.faces[0].holes
    xs, ys = zip(*spots(hole), strict=True)
    assert (min(xs), min(ys), max(xs), max(ys)) == pytest.approx((91, 13.5, 109, 31.5), abs=0.01)
    found = faults('<hole/><text align="centre" most="12pt" least="12pt">right across it</text>')
    assert {f.rule for f in found} == {"layout-hole-covered"}


def test_the_euro_slot_has_the_standards_measures(lay: Lay) -> None:
    """Source: EN 13010: 32 mm wide, arms 6.5 mm, 9 mm over all (as restated in encyclopaedias)."""
    (hole,) = lay('<hole shape="euro" top="10pt"/>').faces[0].holes
    xs, ys = zip(*spots(hole), strict=True)
    mm = 25.4 / 72
    assert (max(xs) - min(xs)) * mm == pytest.approx(32.0, abs=0.01)
    assert (max(ys) - min(ys)) * mm == pytest.approx(9.0, abs=0.01)


def test_what_stands_outside_the_safe_zone_is_refused(faults: Faults) -> None:
    (found,) = faults('<piece safe="8pt"><front><text>edge</text></front></piece>', whole=True)
    assert found.rule == "layout-unsafe"
    assert "2.82 mm" in found.expected


def test_a_column_that_is_too_full_names_its_largest_block(faults: Faults) -> None:
    (found,) = faults(
        '<text name="small" most="8pt" least="8pt">a</text>'
        '<column><row height="20pt"/><text name="story" style="story">'
        + "word " * 300
        + "</text></column>"
    )
    assert (found.rule, found.place.block) == ("layout-overflow", "story")


def test_a_code_stands_on_whole_dots_of_the_printer(lay: Lay) -> None:
    for dpi in (203, 300, 600):
        piece = lay('<code share="1" value="https://go.example.com/p/RM"/>', dpi=dpi)
        (code,) = (m for m in piece.faces[0].marks if isinstance(m, Code))
        assert code.payload == "https://go.example.com/p/RM"
        assert code.width == pytest.approx(code.module * 37)
        dots = code.module * dpi / 72
        assert dots == pytest.approx(round(dots), abs=1e-6)
        assert 0.33 <= code.module * 25.4 / 72 <= 0.6


def said(text: str, kind: Kind = "warning") -> Statement:
    """Return a statement that some law asks for."""
    form = Form((Run(text),))
    rule = ("test-rule",)
    return Statement(
        "test-rule", kind, form, None, (), (), "plain", "law", ("US",), rule, Confidence("read")
    )


def test_a_layout_cannot_forget_a_warning(faults: Faults) -> None:
    statement = said("Contains lead.")
    (found,) = faults("<text>no room for it</text>", said=(statement,))
    assert found.rule == "layout-leaves-out"
    assert "Contains lead." in found.message
    (found,) = faults('<disclosure kinds="care"/>', said=(statement,))
    assert found.rule == "layout-leaves-out"


def test_the_disclosure_block_prints_what_must_be_said(
    lay: Lay, runs: Callable[[Piece], list[Glyphs]]
) -> None:
    piece = lay("<disclosure/>", said=(said("Contains lead."), said("Wash your hands.", "caution")))
    assert " ".join(run.text for run in runs(piece)) == "Contains lead. · Wash your hands."


def test_a_text_of_a_whole_book_is_refused_before_anybody_tires_of_waiting(faults: Faults) -> None:
    (found,) = faults(f'<text style="note" lines="9999">{"word " * 20_000}</text>')
    assert found.rule == "layout-overflow"
