"""Any tree of blocks with any attributes makes a piece that keeps its promises, or is refused."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from labeler.disclosures.rules import Confidence
from labeler.disclosures.statements import LeastSize, Statement, StatementForm, TextRun
from labeler.findings import LabelerError
from labeler.layout.markup import BLOCKS
from labeler.marks import Glyphs, Group, Mark, Piece

Lay = Callable[..., Piece]

lengths = st.sampled_from(["0mm", "1pt", "1/8 in", "20pt", "33pt", "60pt", "400pt"])
sizes = st.sampled_from(["4pt", "6pt", "9pt", "14pt", "30pt"])
said = st.lists(
    st.text("abcdefgijklmnopqrstuvwxyzJTVÅÉ0123456789/-,.", min_size=1, max_size=18), max_size=7
).map(" ".join)


@st.composite
def some(draw: st.DrawFn, /, **choices: st.SearchStrategy[str]) -> str:
    """Write a few of the attributes, each with one of its values."""
    names = draw(st.lists(st.sampled_from(sorted(choices)), max_size=3, unique=True))
    return "".join(f' {name}="{draw(choices[name])}"' for name in names)


own_sides = st.sampled_from(
    [""] * 6 + [' share="1"'] * 4
    + [' share="0.3"', ' share="0"', ' width="50pt"', ' width="0pt"', ' height="0pt"',
       ' height="40pt"', ' share="2" width="30pt"', ' share="1" height="25pt"',
       ' width="20pt" height="20pt"']
)  # fmt: skip
aligns = {
    "align": st.sampled_from(["left", "centre", "right"]),
    "valign": st.sampled_from(["top", "middle", "bottom"]),
}
inside = {
    "gap": lengths,
    "pad": st.lists(st.integers(0, 12).map(lambda n: f"{n}pt"), min_size=1, max_size=4).map(
        ", ".join
    ),
    "ground": st.just("#eeeeee"),
    "outline": st.sampled_from(["0.4pt", "2pt"]),
    "turn": st.just("180"),
}


def block(tag: str, **choices: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    attributes = st.tuples(own_sides, some(**choices) if choices else st.just(""))
    return attributes.map(lambda kept: f"<{tag}{''.join(kept)}></{tag}>")


texts = st.tuples(
    said,
    own_sides,
    some(
        **aligns, most=sizes, least=sizes, lines=st.sampled_from(["1", "2", "9"]),
        style=st.sampled_from(["name", "colour", "note", "field", "weight", "lot", "story"]),
    ),
    st.sampled_from(["", '<span size="0.5"> 3⁄8 oz</span>', '<span style="field"> Hook</span> 4']),
).map(lambda parts: f"<text{parts[1]}{parts[2]}>{parts[0]}{parts[3]}</text>")  # fmt: skip
leaves = st.one_of(
    texts,
    block("rule", weight=st.sampled_from(["0.3pt", "4pt"])),
    block("spacer"),
    block("swatch"),
    block("figure", **aligns),
    block("code", hang=lengths, most=lengths, **aligns),
    block("disclosure", **aligns, most=sizes, joined=st.sampled_from(["yes", "no"])),
    st.sampled_from(
        ["<hole/>", '<hole shape="euro" top="3pt"/>', '<hole across="8pt" top="0pt"/>']
    ),
)


def containers(children: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    insides = st.lists(children, max_size=4).map("".join)
    rows = some(
        **inside, spread=st.sampled_from(["left", "middle", "right", "apart"]),
        valign=st.sampled_from(["top", "middle", "bottom", "baseline"]),
    )  # fmt: skip
    columns = some(
        **inside, spread=st.sampled_from(["top", "middle", "bottom", "apart"]),
        align=aligns["align"],
    )  # fmt: skip
    return st.one_of(
        st.tuples(own_sides, rows, insides).map(lambda p: f"<row{p[0]}{p[1]}>{p[2]}</row>"),
        st.tuples(own_sides, columns, insides).map(
            lambda p: f"<column{p[0]}{p[1]}>{p[2]}</column>"
        ),
    )


trees = st.recursive(leaves, containers, max_leaves=14)
statements: st.SearchStrategy[list[str]] = st.lists(
    st.sampled_from(["Contains lead.", "WARNING: sharp hook. " * 4]), max_size=2
) | st.just([])


def statement(text: str, number: int) -> Statement:
    least = (LeastSize("cap height", 4.0, 4.0),) if number else ()
    form = StatementForm(
        (TextRun(text[:8], bold=True), TextRun(text[8:])), least, triangle=bool(number)
    )
    return Statement(
        f"rule-{number}", "warning", form, None, (), (), "plain", "law", ("US",),
        (f"rule-{number}",), Confidence("read"),
    )  # fmt: skip


def letters(marks: tuple[Mark, ...]) -> str:
    found = ""
    for mark in marks:
        found += mark.text if isinstance(mark, Glyphs) else ""
        found += letters(mark.marks) if isinstance(mark, Group) and not mark.key else ""
    return found


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(trees, min_size=1, max_size=4).map("".join),
    st.tuples(st.integers(40, 500), st.integers(40, 500)),
    statements,
    st.sampled_from([None, 203, 300]),
    st.sampled_from(["0pt", "4pt"]),
)
def test_any_tree_is_laid_out_as_promised_or_refused_with_its_place(
    lay: Lay,
    watch: Any,
    keeps_its_promises: Callable[[Piece], None],
    tree: str,
    size: tuple[int, int],
    must: list[str],
    dpi: int | None,
    safe: str,
) -> None:
    watch.forget()
    needed = tuple(statement(text, number) for number, text in enumerate(must))
    markup = f'<piece safe="{safe}" bleed="9pt"><front>\n{tree}\n</front></piece>'
    try:
        piece = lay(
            markup, size, whole=True, dpi=dpi, statements=needed, link="https://go.example.com"
        )
    except LabelerError as error:
        for found in error.findings:
            assert found.place.file.endswith("mine.xml.jinja"), found
            assert found.place.line, found
            assert found.place.piece, found
        return
    keeps_its_promises(piece)
    printed = letters(piece.faces[0].marks).replace(" ", "")
    for text in must:
        assert text.replace(" ", "") in printed


ALONE = {
    "text": "<text>deep</text>", "rule": "<rule/>", "spacer": "<spacer/>",
    "swatch": '<swatch height="9pt"/>', "figure": "<figure/>", "code": "<code/>",
    "disclosure": "<disclosure/>", "hole": "<hole/>",
    "picture": '<picture file="leaf.png" says="a leaf" width="60pt"/>',
}  # fmt: skip
"""Each block that holds no others, with as little said of it as may be."""


def test_every_block_of_the_language_stands_alone_here_and_in_the_guide() -> None:
    """A new one gets a line above, a class in ``watch`` and a row in DEVELOPERS.md."""
    assert set(ALONE) == set(BLOCKS) - {"piece", "front", "back", "column", "row", "span"}
    guide = (Path(__file__).resolve().parents[2] / "DEVELOPERS.md").read_text("utf-8")
    rows = " ".join(re.findall(r"^\| `([a-z ]+)` \|", guide, re.MULTILINE)).split()
    assert set(BLOCKS) <= set(rows)


@pytest.mark.parametrize("tag", ALONE)
def test_a_block_alone_keeps_its_promises(
    lay: Lay, watch: Any, keeps_its_promises: Callable[[Piece], None], tag: str, tmp_path: Path
) -> None:
    """Of random trees most are refused, and few of what is left have a given block."""
    (tmp_path / "photos").mkdir()
    Image.new("RGB", (90, 60), "#336633").save(tmp_path / "photos" / "leaf.png")
    watch.forget()
    must = (statement("Contains lead.", 0),) if tag == "disclosure" else ()
    piece = lay(f"\n{ALONE[tag]}\n", (216, 144), statements=must, link="https://go.example.com")
    keeps_its_promises(piece)
    assert bool(watch.drawn) or tag == "hole", "its class is not in `watch` of conftest.py"


@pytest.mark.parametrize("tag", ["row", "column"])
def test_blocks_nested_as_deep_as_may_be_are_laid_out_at_once(lay: Lay, tag: str) -> None:
    """Every container asks its children how large they are; asked anew each time, 2 to the 36."""
    inner = "<text>deep</text><spacer/>" + "<text lines='1'>side</text>"
    tree = f'<{tag} pad="0.2pt" gap="0.1pt"><rule/>' * 36 + inner + f"</{tag}>" * 36
    lay(tree, (500, 500))


def test_a_layout_of_thousands_of_blocks_is_looked_over_at_once(lay: Lay) -> None:
    rules = '<rule height="0.2pt" weight="0.1pt"/>' * 4_000
    piece = lay(f"<column>{rules}</column>", (200, 900))
    assert len(piece.faces[0].marks) == 4_000
