"""How many are in the bag: high enough, clear of other print, and on the side that is seen first.

Source of the distances: 16 CFR 500.6(b); of the heights: 16 CFR 500.21(b).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labeler.catalog.model import Bag, Product
from labeler.disclosures.needed import card_panel, label_panel, needed
from labeler.disclosures.rules import Confidence
from labeler.disclosures.statements import LeastSize, Statement, StatementForm, TextRun, folded
from labeler.findings import Finding, LabelerError
from labeler.layout.compose import Composer, Job
from labeler.layout.index import read_index
from labeler.marks import Glyphs, Group, Mark, Piece, VectorPath, path_points
from labeler.units import Length

Lay = Callable[..., Piece]
KeepsClear = Callable[[Piece, str], None]
MENU = read_index()
LINK = "https://go.example.com/01/09521234001140/10/263290013"


def quantity(points: float = 9.0) -> Statement:
    least = (LeastSize("cap height", points, points),)
    form = StatementForm((TextRun("12 JIGS", bold=True),), least)
    return Statement(
        "count", "quantity", form, None, (), (), "bold", "law", ("US",), ("count",),
        Confidence("read"),
    )  # fmt: skip


def caution(text: str = "Sharp hook. Keep from children.") -> Statement:
    form = StatementForm((TextRun(text),))
    return Statement(
        "care", "caution", form, None, (), (), "plain", "law", ("US",), ("care",),
        Confidence("read"),
    )  # fmt: skip


COUNT = '<disclosure kinds="quantity"/>'


@pytest.mark.parametrize(
    "front",
    [
        f"<column><text>above</text>{COUNT}<text>below</text></column>",
        f"<column><swatch/>{COUNT}<code/></column>",
        f'<row><text>left</text>{COUNT}<code align="right" hang="9pt"/></row>',
        f'<row><code align="left" hang="9pt"/>{COUNT}<code/></row>',
        f'<row><code/>{COUNT}<column outline="1pt"><text>right</text></column></row>',
        f"<column><row><column><spacer/>{COUNT}</column><text>a</text></row><rule/></column>",
        f'<column><rule/><column pad="3pt">{COUNT}</column><rule/></column>',
        f'<column><column outline="1pt">{COUNT}</column></column>',
        "<column><text>above</text><disclosure/><text>below</text></column>",
        '<row><column width="70pt"><disclosure align="right"/></column><text>beside</text></row>',
    ],
)
@pytest.mark.parametrize("points", [4.6, 9.0, 13.7])
def test_print_keeps_its_distance_from_a_quantity(
    lay: Lay, keeps_clear: KeepsClear, front: str, points: float
) -> None:
    rest = "" if "<disclosure/>" in front or "<disclosure align" in front else "<disclosure/>"
    markup = f'<column pad="14pt">{front}{rest}</column>'
    piece = lay(markup, (400, 300), statements=(caution(), quantity(points)), link=LINK)
    assert any(isinstance(m, Glyphs) and "JIGS" in m.text for m in piece.faces[0].marks)
    keeps_clear(piece, "12 JIGS")


leaves = st.sampled_from(
    ["<text>Reedmace</text>", "<swatch/>", "<rule/>", "<code/>", "<spacer/>",
     '<spacer height="6pt"/>', '<code align="right" hang="4pt"/>', '<text share="1">a</text>',
     '<text style="name" align="right">Weir</text>', '<swatch share="1" height="4pt"/>']
)  # fmt: skip


def nested(inner: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    attributes = st.sampled_from(
        ["", ' gap="2pt"', ' pad="5pt"', ' share="1"', ' spread="apart"', ' outline="0.3pt"',
         ' gap="11pt" pad="0pt, 7pt"', ' spread="bottom" share="1"', ' width="90pt"']
    )  # fmt: skip
    rows = st.tuples(st.just("row"), attributes.filter(lambda text: "bottom" not in text))
    tags = rows | st.tuples(st.just("column"), attributes)
    children = st.lists(inner, min_size=1, max_size=3).map("".join)
    return st.tuples(tags, children).map(lambda n: f"<{n[0][0]}{n[0][1]}>{n[1]}</{n[0][0]}>")


plain = st.recursive(leaves, nested, max_leaves=4)


@st.composite
def trees(draw: st.DrawFn) -> str:
    """Draw blocks around a quantity, some deep."""
    tree = COUNT
    for _ in range(draw(st.integers(1, 4))):
        before, after = (draw(st.lists(plain, max_size=2).map("".join)) for _ in range(2))
        tree = draw(nested(st.just(f"{before}{tree}{after}")))
    return tree


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(trees(), st.sampled_from([4.6, 9.0]))
def test_in_any_tree_print_keeps_its_distance_or_the_tree_is_refused(
    lay: Lay, keeps_clear: KeepsClear, tree: str, points: float
) -> None:
    refused: set[str] = set()
    try:
        keeps_clear(lay(tree, (400, 400), statements=(quantity(points),), link=LINK), "12 JIGS")
    except LabelerError as error:
        refused = {found.rule for found in error.findings}
    assert "layout-crowded" not in refused


@pytest.mark.parametrize("valign", ["top", "baseline"])
def test_what_nobody_asks_for_is_left_out_where_it_has_no_room(lay: Lay, valign: str) -> None:
    """Nothing is left of the block then; its neighbour stands where it would."""
    said = StatementForm((TextRun("Head of bismuth and tin, skirt of silicone, hook of steel"),))
    optional = replace(caution(), kind="material", duty="optional", full=said)
    markup = (
        f'<row valign="{valign}"><text share="1">Reedmace</text><disclosure width="60pt"/></row>'
    )
    (run,) = lay(markup, (120, 12), statements=(optional,)).faces[0].marks
    assert isinstance(run, Glyphs)
    assert run.text == "Reedmace"


def test_margins_and_gaps_and_a_codes_quiet_zone_are_one_and_the_same_room(lay: Lay) -> None:
    """A gap wider than the clear space is left as it is; a narrower one grows to it, no more."""

    def apart(gap: str) -> float:
        piece = lay(f'<column gap="{gap}"><rule/>{COUNT}</column>', statements=(quantity(),))
        rule, run = piece.faces[0].marks
        assert isinstance(rule, VectorPath)
        assert isinstance(run, Glyphs)
        return run.y - max(y for _, y in path_points(rule))

    assert apart("0pt") == apart("9pt")
    assert apart("30pt") == pytest.approx(apart("20pt") + 10)


def test_at_the_edge_of_the_piece_no_room_is_lost(lay: Lay) -> None:
    piece = lay(f'<column spread="bottom">{COUNT}</column>', (80, 14), statements=(quantity(),))
    (run,) = piece.faces[0].marks
    assert isinstance(run, Glyphs)
    assert run.x < 1


def test_what_stands_in_the_way_is_named(
    faults: Callable[..., tuple[Finding, ...]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The last look at the face does not rely on the margins that should have kept it clear."""
    monkeypatch.setattr(
        "labeler.layout.boxes._gaps_between", lambda kids, *rest: [0.0] * (len(kids) - 1)
    )
    (found,) = faults(
        f'<column><text name="price">$5</text>{COUNT}</column>', statements=(quantity(),)
    )
    assert found.rule == "layout-crowded"
    assert found.message.startswith("price ")
    assert found.expected == "3.2 mm clear above and below, 4.7 mm beside"


def test_a_block_that_names_kinds_comes_first_wherever_it_stands(lay: Lay) -> None:
    """The back panel of a header card stands before the front on the sheet."""
    markup = (
        '<piece safe="0pt"><front><disclosure name="all"/></front>'
        '<back><disclosure name="count" kinds="quantity"/></back></piece>'
    )
    piece = lay(markup, whole=True, statements=(quantity(), caution()))
    front, back = ([m.text for m in f.marks if isinstance(m, Glyphs)] for f in piece.faces)
    assert front == ["Sharp hook. Keep from children."]
    assert [folded(text) for text in back] == ["12 JIGS"]


def test_a_layout_asks_what_the_piece_must_say(lay: Lay) -> None:
    markup = "{% if says.quantity %}<text>{{ says.quantity }}!</text>{% endif %}<disclosure/>"
    (run, _) = lay(markup, statements=(quantity(),)).faces[0].marks
    assert isinstance(run, Glyphs)
    assert run.text == "12 JIGS!"
    assert len(lay(markup, statements=(caution(),)).faces[0].marks) == 1


# ------------------------------------------------------------------------- the layouts that ship

SIZES = {
    "bag-strip": (4.0, 1.0), "bag-compact": (2.5, 1.5), "bag-wide": (4.0, 4 / 3),
    "bag-panel": (4.0, 2.0), "header-card": (3.0, 4.0), "insert-card": (2.75, 4.75),
}  # fmt: skip


def everything(marks: tuple[Mark, ...]) -> list[Glyphs]:
    runs: list[Glyphs] = []
    for mark in marks:
        runs += [mark] if isinstance(mark, Glyphs) else []
        runs += everything(mark.marks) if isinstance(mark, Group) and not mark.key else []
    return runs


@pytest.mark.parametrize("layout", list(SIZES))
def test_every_layout_states_the_count_where_and_as_high_as_the_law_asks(
    product: Product, keeps_clear: KeepsClear, layout: str, cap_height: Any
) -> None:
    """Letters an eighth of an inch high on these panels, in the bottom 30 % of a card's front."""
    wide, high = (Length.from_inches(side) for side in SIZES[layout])
    bag = Bag(name="Paper 3 x 5", width="3 in", height="5 in", clear=False)
    pattern = product.pattern.model_copy(update={"pack": 12})
    dozen = product.model_copy(update={"pattern": pattern, "bag": bag})
    cards = MENU[layout].use == "cards"
    panel = card_panel(wide, high) if cards else label_panel(wide, high, bag)
    said = needed(dozen, dozen.markets, dt.date(2026, 11, 25), panel=panel)
    piece = Composer().compose(Job(dozen, layout, (wide.pt, high.pt), said, "263290013", LINK))
    front = piece.faces[0]
    (run,) = (m for m in front.marks if isinstance(m, Glyphs) and "JIGS" in m.text)
    tall = cap_height(run)
    assert tall >= Length.from_inches(1 / 8).pt
    keeps_clear(piece, "12 JIGS")
    if cards:
        panel_high = piece.height / 2 if front.folds else piece.height
        assert run.y - tall >= piece.height - 0.3 * panel_high
    everywhere = [r.text for face in piece.faces for r in everything(face.marks)]
    assert not any(text.upper().startswith("PACK") for text in everywhere)
    assert any("swim jig" in r.text.casefold() for r in everything(front.marks))
