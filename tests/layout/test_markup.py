"""The markup: every fault at once, each with its line and the nearest name."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from labeler.findings import Finding, LabelerError
from labeler.layout.markup import BLOCKS, MOST_DEPTH, read_markup

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


def test_every_block_takes_a_line() -> None:
    assert all("line" in attributes for attributes in BLOCKS.values())


def test_a_value_says_what_was_expected() -> None:
    with pytest.raises(LabelerError) as caught:
        read_markup('<piece><front><code kind="aztec"/></front></piece>', "here")
    (found,) = caught.value.findings
    assert (found.found, found.expected) == ("'aztec'", "one of qr, retail")
