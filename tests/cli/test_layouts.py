"""A layout from a stranger, through the command line: it prints, or is told by file; no more."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

Refused = Callable[..., str]
Spoil = Callable[[Mapping[str, bytes | str | None]], Path]
Cli = Callable[..., tuple[int, str, str]]


def piece(inside: str) -> str:
    """Return a layout of one text and all that must be said."""
    return (
        '<piece name="mine"><front pad="5pt" gap="2pt">\n'
        f'<text name="words" style="note" most="6pt">{inside}</text>\n'
        "<disclosure/></front></piece>"
    )


@pytest.fixture
def laid(refused: Refused, spoil: Spoil, tmp_path: Path) -> Callable[..., str]:
    """Return a function that prints one label with a layout which must be refused by name."""

    def lay(layout: bytes | str, rule: str, says: str = "", **more: int) -> str:
        line = spoil({"layouts/mine.xml.jinja": layout})
        return refused(
            "--catalog", line, "bags", "--layout", "mine", "--sku", "FST-38-40-MAR",
            "--out", tmp_path / "x.pdf", rule=rule, says=("mine.xml.jinja", says), **more,
        )  # fmt: skip

    return lay


LONG = "y" * 90_000


@pytest.mark.daily("{{ lipsum() }}")
@pytest.mark.parametrize(
    "words",
    [
        "{{ ''.__class__.__mro__ }}",
        "{{ product.__class__ }}",
        "{{ product.items }}",
        "{{ self.__init__.__globals__ }}",
        "{{ lipsum() }}",
        "{{ lot|attr('__class__') }}",
        "{{ ''.join.__self__ }}",
        "{% import 'os' as os %}{{ os.system('true') }}",
        "{{ open('/etc/passwd') }}",
        "{% for a in range(3) %}x{% endfor %}",
    ],
)
def test_a_layout_calls_no_python(laid: Callable[..., str], words: str) -> None:
    laid(piece(words), rule="layout-fault")


@pytest.mark.parametrize(
    "words",
    [
        "{% include '../../../etc/passwd' %}",
        "{% include '/etc/passwd' %}",
        "{% include '../catalog.toml' %}",
        "{% extends '..\\\\secret' %}",
        "{% include ['none', '../none'] %}",
    ],
)
def test_a_layout_takes_in_nothing_from_outside_its_folder(
    laid: Callable[..., str], words: str
) -> None:
    laid(piece(words), rule="layout-fault")


@pytest.mark.parametrize(
    "block",
    [
        '<picture file="../catalog.toml" height="0.3in"/>',
        '<picture file="/etc/passwd" height="0.3in"/>',
        '<picture file="file:///etc/passwd" height="0.3in"/>',
        '<picture file="http://example.com/x.jpg" height="0.3in"/>',
    ],
)
def test_a_layout_shows_no_picture_from_outside_photos(
    laid: Callable[..., str], block: str
) -> None:
    layout = f'<piece><front pad="5pt">{block}<disclosure/></front></piece>'
    laid(layout, rule="picture-missing")


def test_a_link_in_photos_that_leads_outside_is_not_followed(
    laid: Callable[..., str], spoil: Spoil, tmp_path: Path
) -> None:
    (tmp_path / "secret.jpg").write_bytes(b"\xff\xd8\xff\xe0")
    line = spoil({"photos/README.md": "x"})
    (line / "photos" / "mine.jpg").symlink_to(tmp_path / "secret.jpg")
    layout = '<piece><front pad="5pt"><picture file="mine.jpg" height="9pt"/><disclosure/></front>'
    laid(layout + "</piece>", rule="picture-missing")


@pytest.mark.daily("{% include 'mine' %}", "{{ 'x' * 99999999999 }}")
@pytest.mark.parametrize(
    "words",
    [
        "{% for a in product.layers %}" * 18 + "x" + "{% endfor %}" * 18,
        "{% macro m() %}{{ m() }}{% endmacro %}{{ m() }}",
        "{% macro m(n) %}{% if n %}{{ m(n - 1) }}{{ m(n - 1) }}{% endif %}{% endmacro %}"
        "{{ m(60) }}",
        "{% include 'mine' %}",
        "{% set a = 'x' %}" + "{% set a = a ~ a %}" * 60 + "{{ a|length }}",
        "{% set a = 'x' %}" + "{% set a = a + a %}" * 60 + "{{ a|length }}",
        "{% set a = [1] %}" + "{% set a = [a, a] %}" * 60 + "{{ a == a }}",
        "{% set a %}x{% endset %}" + "{% set a %}{{ a }}{{ a }}{% endset %}" * 60 + "{{ a }}",
        "{% set a = 99999999 %}" + "{% set a = a * a %}" * 50 + "{{ a > 1 }}",
        f"{{% set a = '{LONG}' %}}{{{{ a|replace('y', a)|length }}}}",
        f"{{% set a = '{LONG}' %}}{{{{ a|join(a)|length }}}}",
        "{{ [1]|batch(5000000000, 'x')|list|length }}",
        "{{ 1|round(1000000000, 'ceil') }}",
        "{{ 9 ** 9 ** 9 ** 9 }}",
        "{{ 'x' * 99999999999 }}",
        "{{ '%99999999999d' % 1 }}",
        "{{ " + "(" * 5_000 + "1" + ")" * 5_000 + " }}",
        "{% for a in [1] %}" * 30 + "{% endfor %}" * 30,
    ],
    ids=lambda words: words[:40],
)
def test_a_layout_that_would_never_end_is_stopped(laid: Callable[..., str], words: str) -> None:
    laid(piece(words), rule="layout-fault")


@pytest.mark.parametrize(
    "words",
    [
        "{{ product.layers }}",
        "{{ product.layers|map(attribute='shade') }}",
        "{% macro m() %}{% endmacro %}{{ m }}",
        "{{ self }}",
    ],
)
def test_only_words_and_numbers_are_printed(laid: Callable[..., str], words: str) -> None:
    """Python's own name for a thing holds its address in memory, another one in every run."""
    laid(piece(words), rule="layout-fault", says="words and numbers")


@pytest.mark.parametrize("tags", [["row"], ["column"], ["row", "column"]], ids=" in ".join)
def test_boxes_in_boxes_take_no_longer_than_their_number(
    run_cli: Cli, spoil: Spoil, tmp_path: Path, tags: list[str]
) -> None:
    """Each asks the one inside it more than once: unremembered, 2 to the power of 34 times."""
    nest = tags * (34 // len(tags))
    inside = '<text style="note" most="6pt">deep</text>'
    for tag in nest:
        inside = f"<{tag}>{inside}</{tag}>"
    layout = f'<piece><front pad="5pt">{inside}<disclosure/></front></piece>'
    line = spoil({"layouts/mine.xml.jinja": layout})
    words = ("--layout", "mine", "--sku", "FST-38-40-MAR", "--out", tmp_path / "x.pdf")
    assert run_cli("--catalog", line, "bags", *words)[0] == 0


def test_a_text_as_long_as_a_book_is_refused_at_once(laid: Callable[..., str]) -> None:
    laid(piece("word " * 20_000).replace("most=", 'lines="9999" most='), rule="layout-overflow")


BOMB = (
    '<!DOCTYPE piece [<!ENTITY a "aaaaaaaaaa">'
    + "".join(
        f'<!ENTITY {new} "{f"&{old};" * 10}">'
        for old, new in zip("abcdefghi", "bcdefghij", strict=True)
    )
    + "]>"
)


@pytest.mark.parametrize(
    ("layout", "rule"),
    [
        (BOMB + piece("&j;"), "layout-markup"),
        ('<!DOCTYPE p [<!ENTITY x SYSTEM "file:///etc/passwd">]>' + piece("&x;"), "layout-markup"),
        ('<?xml version="1.0"?><!DOCTYPE p SYSTEM "x.dtd">' + piece("x"), "layout-markup"),
        ("{% autoescape false %}{{ '<!DOCTYPE p>' }}{% endautoescape %}" + piece("x"),
         "layout-markup"),
        (piece("&nothing;"), "layout-markup"),
        (piece("<![CDATA[x]]>"), "layout-markup"),
        (piece("<b>x</b>"), "layout-markup"),
        (piece('{{ "\\ud800" }}'), "layout-markup"),
        (piece('{{ "\\x00" }}'), "layout-markup"),
        (piece("x").replace("</front>", ""), "layout-markup"),
        ("", "layout-markup"),
        ("no markup at all", "layout-markup"),
        ("<piece/>", "layout-markup"),
        (b"\xff\xfe\x00\x01", "layout-unreadable"),
        ("<piece>" + "<front>" * 3_000, "layout-markup"),
        ("x" * 300_000, "layout-unreadable"),
    ],
    ids=lambda part: str(part)[:30],
)  # fmt: skip
def test_a_layout_that_is_no_markup_is_told(
    laid: Callable[..., str], layout: bytes | str, rule: str
) -> None:
    laid(layout, rule=rule)


@pytest.mark.parametrize(
    ("old", "new", "rule", "says"),
    [
        ('style="note"', 'stile="note"', "layout-unknown-attribute", "Did you mean 'style'?"),
        ("<disclosure/>", "<disclosures/>", "layout-unknown-block", "Did you mean 'disclosure'?"),
        ('style="note"', 'style="nope"', "unknown-style", "Did you mean 'note'?"),
        (">x<", ">{{ product.patern }}<", "layout-unknown-field", "Did you mean 'pattern'?"),
        (">x<", ">{{ produkt.pattern }}<", "layout-unknown-field", "'produkt'"),
        (">x<", ">{{ product.pattern <", "layout-fault", "can't be filled in"),
        (">x<", ">{% if %}<", "layout-fault", "can't be filled in"),
        ('most="6pt"', 'most="6"', "layout-value", "with its unit"),
        ('most="6pt"', 'most="0pt"', "layout-value", "above 0"),
        ('most="6pt"', f'most="{"9" * 900}pt"', "layout-value", "such as"),
        ('pad="5pt"', 'pad="90in"', "layout-overflow", "does not fit"),
        ('pad="5pt"', 'pad="-5pt"', "layout-value", "pad"),
    ],
)
def test_a_slip_in_a_layout_is_told_with_what_was_meant(
    laid: Callable[..., str], old: str, new: str, rule: str, says: str
) -> None:
    layout = piece("x")
    assert old in layout
    assert "FST-38-40-MAR" in laid(layout.replace(old, new, 1), rule=rule, says=says)


@pytest.mark.daily
def test_a_layout_with_no_place_for_a_warning_is_refused_whole(
    run_cli: Cli, spoil: Spoil, tmp_path: Path
) -> None:
    line = spoil({"layouts/mine.xml.jinja": piece("x").replace("<disclosure/>", "")})
    words = ("--layout", "mine", "--out", tmp_path / "x.pdf")
    status, _, err = run_cli("--catalog", line, "bags", *words)
    assert (status, (tmp_path / "x.pdf").exists()) == (2, False)
    assert "Contains lead" in err
    assert "[layout-leaves-out]" in err


@pytest.mark.daily
def test_a_layout_of_the_maker_s_own_prints(run_cli: Cli, spoil: Spoil, tmp_path: Path) -> None:
    line = spoil({"layouts/mine.xml.jinja": piece("{{ product.pattern }}")})
    words = ("--layout", "mine", "--out", tmp_path / "x.pdf")
    status, out, err = run_cli("--catalog", line, "bags", *words)
    assert (status, err.count("\n"), "no-lot" in err) == (0, 2, True)
    assert "layout mine." in out


@pytest.mark.parametrize(
    "name", ["../mine", "/etc/passwd", "mine.xml.jinja", "m\ne", ".", "\udce9"]
)
def test_a_layout_s_name_leads_nowhere_else(refused: Refused, line: Path, name: str) -> None:
    refused(
        "--catalog", line, "bags", "--layout", name, "--out", line / "x.pdf",
        rule="unknown-layout", says="there is no layout called",
    )  # fmt: skip
