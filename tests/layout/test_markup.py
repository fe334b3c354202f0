"""The markup: every fault at once, each with its line and the nearest name."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from labeler.findings import Finding, LabelerError
from labeler.layout.markup import BLOCKS, MOST_DEPTH, read_markup
from labeler.ledger.documents import LANGUAGE

Faults = Callable[..., tuple[Finding, ...]]

BOMB = """<!DOCTYPE piece [
  <!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">
  <!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;&b;&b;"><!ENTITY d "&c;&c;&c;&c;&c;&c;&c;&c;&c;&c;">
]><piece><front><text>&d;</text></front></piece>"""


@pytest.mark.parametrize(
    "markup",
    [
        BOMB,
        '<!DOCTYPE piece SYSTEM "file:///etc/passwd"><piece><front/></piece>',
        "<piece><front><![CDATA[x]]></front></piece>",
    ],
)
def test_none_of_xmls_doors_is_open(faults: Faults, markup: str) -> None:
    (found,) = faults(markup, whole=True)
    assert found.rule == "layout-markup"
    assert "no document type" in found.message


def test_all_faults_come_at_once_with_line_and_nearest_name(faults: Faults) -> None:
    found = faults(
        '<txt>a</txt>\n<text stile="name">b</text>\n<column gap="3">\n'
        '<swatch height="much"/></column>'
    )
    told = [(f.rule, f.place.line, f.hint or f.expected) for f in found]
    assert told == [
        ("layout-unknown-block", 2, "Did you mean 'text'?"),
        ("layout-unknown-attribute", 3, "Did you mean 'style'?"),
        ("layout-value", 4, "a length with its unit, such as 2 5/8 in, 66.7 mm or 12 pt"),
        ("layout-value", 5, "a length with its unit, such as 2 5/8 in, 66.7 mm or 12 pt"),
    ]


@pytest.mark.parametrize(
    ("front", "said"),
    [
        ("loose words", "words stand loose"),
        ("<text>a <row/></text>", "can't stand in <text>"),
        ("<front/>", "can't stand in <front>"),
        ("<spacer>x</spacer>", "words stand loose"),
        ("<row><text>unclosed</row>", "not well-formed"),
        ("<text>&nbsp;</text>", "not well-formed"),
        ("<column>" * (MOST_DEPTH + 3) + "</column>" * (MOST_DEPTH + 3), "nest deeper"),
    ],
)
def test_blocks_stand_where_they_may(faults: Faults, front: str, said: str) -> None:
    assert any(said in finding.message for finding in faults(front))


def test_a_piece_has_a_front_and_perhaps_a_back(faults: Faults) -> None:
    assert "a <front>" in faults("<piece><back/></piece>", whole=True)[0].message
    assert "one <piece>" in faults("<row/>", whole=True)[0].message


def test_white_space_folds_over_spans_but_fixed_spaces_stay() -> None:
    markup = (
        "<piece><front><text>\n  Hook \n <span>\n 4/0 </span> \n black&#160;nickel\n"
        "</text></front></piece>"
    )
    text = read_markup(markup, "here").children[0].children[0]
    assert "".join(words for words, _ in text.words) == "Hook 4/0 black\u00a0nickel"


def test_a_block_in_an_included_layout_is_found_in_its_own_file(
    tmp_path: Path, faults: Faults
) -> None:
    (tmp_path / "layouts").mkdir(exist_ok=True)
    (tmp_path / "layouts" / "foot.xml.jinja").write_text("\n\n<text stile='x'>a</text>")
    (found,) = faults("<rule/>\n{% include 'foot' %}")
    assert Path(found.place.file).name == "foot.xml.jinja"
    assert found.place.line == 3
    (tmp_path / "layouts" / "foot.xml.jinja").write_text("\n{{ product.nme }}")
    (found,) = faults("<rule/>\n\n<text>{% include 'foot' %}</text>")
    assert (Path(found.place.file).name, found.place.line) == ("foot.xml.jinja", 2)
    (tmp_path / "layouts" / "foot.xml.jinja").write_text("\n\n\n{% if %}")
    (found,) = faults("<rule/>\n{% include 'foot' %}")
    assert (Path(found.place.file).name, found.place.line) == ("foot.xml.jinja", 4)


def test_a_tag_over_several_lines_is_found_where_it_begins(faults: Faults) -> None:
    (found,) = faults(
        "{% for n in [1, 2, 3] %}\n<rule/>\n{% endfor %}\n<text\n  stile='x'\n>a</text>"
    )
    assert found.place.line == 5


def test_a_line_that_a_maker_writes_is_no_line_number(faults: Faults) -> None:
    assert "not well-formed" in faults('<text line="many">a</text>')[0].message
    assert faults('<txt line="many">a</txt>')[0].rule == "layout-unknown-block"


def test_words_in_a_span_in_a_span_are_refused_and_not_lost(faults: Faults) -> None:
    (found,) = faults("<text>a <span>b <span>c</span> d</span></text>")
    assert found.message == "<span> can't stand in <span>"


@pytest.mark.parametrize(
    "block",
    [
        '<span size="0">a</span>',
        '<span size="0.01">a</span>',
        f'<span size="{"9" * 400}">a</span>',
    ],
)
def test_a_span_keeps_a_size_that_can_be_read(faults: Faults, block: str) -> None:
    assert faults(f"<text>{block}</text>")[0].rule == "layout-value"


@pytest.mark.parametrize(
    "block",
    [
        f'<column share="{"9" * 400}"/>',
        f'<column height="{"9" * 400}in"/>',
        '<column width="9999 in"/>',
        '<rule weight="0pt"/>',
        '<rule dash="0.000001pt"/>',
        '<hole across="0mm"/>',
        '<code value="x" least="0mm"/>',
        '<disclosure kinds="warnings"/>',
        '<swatch radius="3pt"/>',
        '<column gap="-3pt"/>',
    ],
)
def test_a_value_that_nothing_can_be_made_of_is_refused(faults: Faults, block: str) -> None:
    assert {f.rule for f in faults(block)} <= {"layout-value", "layout-unknown-attribute"}


@pytest.mark.parametrize("folds", ["150 %", "100 %", "50", "50 %, x"])
def test_a_fold_lies_on_the_piece(faults: Faults, folds: str) -> None:
    found = faults(f'<piece><front folds="{folds}"/></piece>', whole=True)
    assert found[0].rule == "layout-value"


def test_a_value_says_what_was_expected() -> None:
    with pytest.raises(LabelerError) as caught:
        read_markup('<piece><front><code kind="aztec"/></front></piece>', "here")
    (found,) = caught.value.findings
    assert (found.found, found.expected) == ("'aztec'", "one of qr, retail")


def test_a_language_that_says_more_has_a_new_number() -> None:
    """An older program tells by the number that it can't read what a newer one has kept."""
    kept = json.loads(Path(__file__).with_name("language.json").read_text("utf-8"))
    says = {block: sorted(attributes) for block, attributes in sorted(BLOCKS.items())}
    assert {"number": LANGUAGE, "blocks": says} == kept, (
        "blocks or attributes changed: LANGUAGE in ledger/documents.py gets the next number, "
        "and language.json lists what it says by then"
    )
