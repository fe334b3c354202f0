"""Rows and columns share out space exactly; nothing overlaps, leaves its box or is dropped."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path as Folder

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labeler.catalog.model import Part, Product
from labeler.disclosures.rules import Confidence, Kind
from labeler.disclosures.statements import Statement, StatementForm, TextRun
from labeler.findings import Finding
from labeler.geometry import apply_to_box
from labeler.layout.compose import Composer, Job
from labeler.marks import Code, Glyphs, Group, Piece, VectorPath, path_points
from labeler.units import Weight

Lay = Callable[..., Piece]
Faults = Callable[..., tuple[Finding, ...]]
Box = tuple[float, float, float, float]


def boxes(piece: Piece) -> list[Box]:
    """Return the boxes of a front's paths, grounds here."""
    found = []
    for mark in piece.faces[0].marks:
        if isinstance(mark, VectorPath):
            xs, ys = zip(*path_points(mark), strict=True)
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


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
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
    left, top, right, bottom = apply_to_box(
        group.matrix, (run.x, run.y - 7, run.x + run.width, run.y)
    )
    assert right == pytest.approx(196, abs=0.1)
    assert 30 < top < bottom < 47
    assert left > 100


def test_a_hole_is_drawn_as_a_die_line_and_kept_clear(lay: Lay, faults: Faults) -> None:
    piece = lay('<hole shape="round" across="18pt" top="13.5pt"/>')
    (hole,) = piece.faces[0].holes
    xs, ys = zip(*path_points(hole), strict=True)
    assert (min(xs), min(ys), max(xs), max(ys)) == pytest.approx((91, 13.5, 109, 31.5), abs=0.01)
    found = faults('<hole/><text align="centre" most="12pt" least="12pt">right across it</text>')
    assert {f.rule for f in found} == {"layout-hole-covered"}


def test_the_euro_slot_has_the_standards_measures(lay: Lay) -> None:
    """Source: EN 13010: 32 mm wide, arms 6.5 mm, 9 mm over all (as restated in encyclopaedias)."""
    (hole,) = lay('<hole shape="euro" top="10pt"/>').faces[0].holes
    xs, ys = zip(*path_points(hole), strict=True)
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
    form = StatementForm((TextRun(text),))
    rule = ("test-rule",)
    return Statement(
        "test-rule", kind, form, None, (), (), "plain", "law", ("US",), rule, Confidence("read")
    )


def test_a_layout_cannot_forget_a_warning(faults: Faults) -> None:
    statement = said("Contains lead.")
    (found,) = faults("<text>no room for it</text>", statements=(statement,))
    assert found.rule == "layout-leaves-out"
    assert "Contains lead." in found.message
    (found,) = faults('<disclosure kinds="care"/>', statements=(statement,))
    assert found.rule == "layout-leaves-out"


def test_the_disclosure_block_prints_what_must_be_said(
    lay: Lay, runs: Callable[[Piece], list[Glyphs]]
) -> None:
    piece = lay(
        "<disclosure/>", statements=(said("Contains lead."), said("Wash your hands.", "caution"))
    )
    assert " ".join(run.text for run in runs(piece)) == "Contains lead. Wash your hands."


def test_a_text_of_a_whole_book_is_refused_before_anybody_tires_of_waiting(faults: Faults) -> None:
    (found,) = faults(f'<text style="note" lines="9999">{"word " * 20_000}</text>')
    assert found.rule == "layout-overflow"


def test_a_text_without_words_takes_no_gap(lay: Lay) -> None:
    piece = lay(
        '<column gap="7pt"><column height="10pt" ground="#111111"/><text>{{ lot }}</text>'
        '<disclosure/><column height="10pt" ground="#222222"/></column>'
    )
    assert near(boxes(piece)[1], (0, 17, 200, 27))
    piece = lay('<row gap="9pt"><text share="1">{{ lot }}</text><column ground="#333333"/></row>')
    assert near(boxes(piece)[0], (200, 0, 200, 0))


def test_a_row_gives_way_so_that_every_child_stands_in_its_height(
    lay: Lay, runs: Callable[[Piece], list[Glyphs]]
) -> None:
    piece = lay(
        '<row height="20pt"><text style="name" share="1" most="9pt" least="8pt">'
        'Marsh Lantern of the Lower Reeds</text><text name="weight" style="weight" most="30pt"'
        ' least="12pt" lines="1">1⁄2</text></row>',
        (110, 40),
    )
    weight = next(run for run in runs(piece) if run.text == "⁄")
    assert 12 <= weight.size < 30


def test_the_grounds_of_a_turned_panel_bleed_outward(lay: Lay) -> None:
    piece = lay(
        '<piece bleed="9pt"><front><column height="50pt" turn="180"><spacer share="1"/>'
        '<column height="10pt" ground="#112233"/></column><spacer/></front></piece>',
        whole=True,
    )
    (group,) = (m for m in piece.faces[0].marks if isinstance(m, Group))
    (ground,) = (m for m in group.marks if isinstance(m, VectorPath))
    xs, ys = zip(*path_points(ground), strict=True)
    assert near(apply_to_box(group.matrix, (min(xs), min(ys), max(xs), max(ys))), (-9, -9, 209, 10))


def test_last_lines_of_different_sizes_stand_on_one_baseline(
    lay: Lay, runs: Callable[[Piece], list[Glyphs]]
) -> None:
    piece = lay(
        '<row valign="baseline" gap="4pt"><text style="note" most="6pt" least="6pt">Hook</text>'
        '<text style="weight" most="20pt" least="20pt">4</text>'
        '<column spread="bottom"><text style="story" most="9pt" least="9pt">gy</text></column>'
        "</row>"
    )
    assert len({round(run.y, 3) for run in runs(piece)}) == 1


def test_a_heights_complaint_speaks_of_the_height_and_a_widths_of_the_width(
    faults: Faults,
) -> None:
    (found,) = faults('<column name="box" pad="60pt, 1pt"><text>a</text></column>')
    assert found.message == "box does not fit"
    (found,) = faults('<column name="box" height="30pt" pad="60pt, 1pt"><text>a</text></column>')
    assert found.message == "the pad of box in its height does not fit"
    assert found.found == "it needs 42.3 mm at its least"
    (found,) = faults('<row height="20pt"><code value="x" share="1"/></row>')
    assert found.message.startswith("the height of the code")


def test_the_hang_of_a_code_in_the_middle_is_nothing(lay: Lay) -> None:
    piece = lay('<code share="1" hang="20pt" value="https://go.example.com"/>', (60, 100))
    (code,) = (m for m in piece.faces[0].marks if isinstance(m, Code))
    assert code.x >= 0
    assert code.x + code.width <= 60.03


def test_a_retail_code_never_goes_below_the_standards_least(lay: Lay) -> None:
    """Source: GS1 General Specifications, 5.12.3.1: 0.264 mm; on 203 dpi three dots, 0.375 mm."""
    block = '<code share="1" kind="retail" value="9521234001140" least="0.1mm" most="0.3mm"/>'
    for dpi, module in ((203, 3 * 25.4 / 203), (600, 7 * 25.4 / 600)):
        (code,) = (
            mark
            for mark in lay(block, (260, 120), dpi=dpi).faces[0].marks
            if isinstance(mark, Code)
        )
        assert code.module * 25.4 / 72 == pytest.approx(module)


def test_a_layer_of_one_strand_is_seen_on_the_swatch(lay: Lay, product: Product) -> None:
    one = product.colour.layers[0]
    layers = (
        one.model_copy(update={"strands": 2000, "flake": None, "ink": "#010101"}),
        one.model_copy(update={"strands": 1, "flake": None, "ink": "#020202"}),
    )
    colour = product.colour.model_copy(update={"layers": layers})
    piece = lay("<swatch/>", product=product.model_copy(update={"colour": colour}))
    widths = {
        mark.fill: max(x for x, _ in path_points(mark)) - min(x for x, _ in path_points(mark))
        for mark in piece.faces[0].marks
        if isinstance(mark, VectorPath) and mark.fill
    }
    assert widths["#020202"] == pytest.approx(1.2)
    assert widths["#010101"] + widths["#020202"] == pytest.approx(200)


@pytest.mark.parametrize(
    "block",
    ['<row><swatch width="5pt"/></row>', '<swatch height="0pt"/>', '<rule height="0pt"/>',
     '<row><figure width="2pt"/></row>'],
)  # fmt: skip
def test_what_would_be_a_blot_or_nothing_is_refused(faults: Faults, block: str) -> None:
    assert faults(block)[0].rule == "layout-overflow"


def test_a_hole_that_reaches_over_the_edge_is_refused(faults: Faults) -> None:
    assert faults('<hole across="18pt" top="90pt"/>')[0].rule == "layout-hole-outside"


def test_the_least_size_of_a_text_is_never_above_its_most(
    lay: Lay, faults: Faults, runs: Callable[[Piece], list[Glyphs]]
) -> None:
    (found,) = faults('<text most="7pt" least="9pt">a</text>')
    assert found.rule == "layout-value"
    assert runs(lay('<text style="note" least="19pt">a</text>'))[0].size == 19


def test_the_warning_sign_stands_inside_its_blocks_box(lay: Lay) -> None:
    form = StatementForm((TextRun("WARNING:", bold=True), TextRun(" sharp hook.")), triangle=True)
    statement = replace(said("x"), full=form)
    piece = lay('<column pad="10pt"><disclosure most="30pt"/></column>', statements=(statement,))
    tops = [y for m in piece.faces[0].marks if isinstance(m, VectorPath) for _, y in path_points(m)]
    assert min(tops) >= 10


def test_a_coloured_disclosure_is_black_in_black(tmp_path: Folder, product: Product) -> None:
    (tmp_path / "layouts").mkdir()
    (tmp_path / "layouts" / "mine.xml.jinja").write_text(
        "<piece><front pad='9pt'><disclosure/></front></piece>"
    )
    (tmp_path / "layouts" / "styles.toml").write_text(
        '[disclosure]\nface = "sans"\nmost = "7pt"\nleast = "6pt"\nink = "#c02020"\n'
    )
    for ink, wanted in (("colour", "#c02020"), ("black", "#000000")):
        composer = Composer(tmp_path, ink=ink)  # type: ignore[arg-type]
        piece = composer.compose(Job(product, "mine", (200, 90), (said("Contains lead."),)))
        (run,) = (m for m in piece.faces[0].marks if isinstance(m, Glyphs))
        assert run.ink == wanted


@pytest.mark.parametrize(
    ("ground", "ink", "printed"),
    [
        ("#12324a", "#ffffff", ("#000000", "#ffffff")),
        ("#12324a", "#fdf8ee", ("#000000", "#ffffff")),
        ("#f2e9d8", "#7a2020", ("#ffffff", "#000000")),
    ],
)
def test_a_coloured_ground_is_black_or_paper_in_black(
    tmp_path: Folder, product: Product, ground: str, ink: str, printed: tuple[str, str]
) -> None:
    (tmp_path / "layouts").mkdir()
    (tmp_path / "layouts" / "mine.xml.jinja").write_text(
        f"<piece><front pad='9pt' ground='{ground}'><text ink='{ink}'>a</text></front></piece>"
    )
    piece = Composer(tmp_path, ink="black").compose(Job(product, "mine", (200, 90)))
    field, run = piece.faces[0].marks
    assert isinstance(field, VectorPath)
    assert isinstance(run, Glyphs)
    assert (field.fill, run.ink) == printed


def test_a_swatch_shows_one_layer_alone_by_its_number(lay: Lay, faults: Faults) -> None:
    piece = lay('<swatch layer="3"/>')
    fills = {
        mark.fill for mark in piece.faces[0].marks if isinstance(mark, VectorPath) and mark.fill
    }
    assert fills == {"#c96a24"}
    (found,) = faults('<swatch layer="4"/>')
    assert (found.rule, found.found, found.expected) == ("layout-value", "4", "1 to 3")


def test_jigs_of_an_assorted_pack_stand_at_one_scale(lay: Lay, product: Product) -> None:
    small = product.model_copy(
        update={"sku": "RM-18-10-SBR", "weight": Weight.parse("1/8 oz"), "hook_size": "1"}
    )
    parts = tuple(Part(product=each, count=1) for each in (product, small))
    pack = product.model_copy(update={"sku": "RM-PACK", "parts": parts})
    front = "".join(f'<figure of="{part.product.sku}" share="1"/>' for part in parts)
    piece = lay(f'<row gap="4pt">{front}</row>', product=pack)
    large, little = (m for m in piece.faces[0].marks if isinstance(m, Group))
    assert large.matrix[0] == pytest.approx(little.matrix[0], rel=0.02)
    assert large.box[2] - large.box[0] > 1.2 * (little.box[2] - little.box[0])
