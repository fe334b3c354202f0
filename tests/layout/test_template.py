"""A layout from a stranger can draw, and nothing else."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from labeler.findings import Finding, LabelerError
from labeler.layout.template import MOST_LETTERS, Layouts

Faults = Callable[..., tuple[Finding, ...]]


@pytest.mark.parametrize(
    "attack",
    [
        "{{ ''.__class__.__mro__[1].__subclasses__() }}",
        "{{ product.keys() }}",
        "{{ product.items }}",
        "{{ self.__init__.__globals__ }}",
        "{{ cycler.__init__.__globals__.os.system('true') }}",
        "{{ lipsum.__globals__ }}",
        "{{ range(9) }}",
        "{{ '%999999999d' % 1 }}",
        "{{ 'a' * 999999999 }}",
        "{{ 9 ** 999999999 }}",
        "{{ '{0.__class__}'.format(lot) }}",
        "{{ lot|attr('__class__') }}",
        "{{ lot|center(999999999) }}",
        "{{ lot|pprint }}",
        "{% set product.sku = 'X' %}",
        "{% import 'os' as os %}",
        "{% include '../../etc/passwd' %}",
        "{% include '/etc/passwd' %}",
        "{% extends 'C:/secret' %}",
    ],
)
def test_a_layout_reaches_nothing_but_its_facts(faults: Faults, attack: str) -> None:
    found = faults(f"<text>{attack}</text>")
    assert len(found) == 1
    assert found[0].place.file.endswith("mine.xml.jinja")


TENFOLD = "{% set a = 'xxxxxxxxxx' %}"


@pytest.mark.siege
@pytest.mark.parametrize(
    "runaway",
    [
        TENFOLD + "{% set a = a ~ a %}" * 40,
        TENFOLD + "{% set a = a + a %}" * 40,
        TENFOLD + "{% set a = a|replace('x', a) %}" * 6,
        TENFOLD + "{% set a = a|join(a) %}" * 6,
        TENFOLD + "{% set a %}{{ a }}{{ a }}{% endset %}" * 40,
        "{% set a = [1, 2] %}" + "{% set a = [a, a] %}" * 40 + "{{ a|upper }}",
        "{% set a = [1, 2] %}" + "{% set a = a + a %}" * 40,
        "{% set a = [[1], [2]] %}" + "{% set a = [a|sum(start=[]), a|sum(start=[])] %}" * 40,
        "{% set a = 9 %}" + "{% set a = a * a %}" * 40,
        "{{ 1|round(99999999, 'ceil') }}",
        "{{ lot|batch(999999999, 'x')|list|length }}{{ 'ab'|batch(999999999, 'x')|list|length }}",
        "{% macro m(n) %}{% if n %}{{ m(n-1) }}{{ m(n-1) }}{% endif %}{% endmacro %}{{ m(60) }}",
        "{% if n is not defined %}{% set n = 40 %}{% endif %}{% if n > 0 %}{% set n = n - 1 %}"
        "{% set quiet %}{% include 'mine' %}{% include 'mine' %}{% endset %}{% endif %}",
        "{% for a in 'ab' %}" * 25 + "{% endfor %}" * 25,
        "(" * 500 + "{{ " + "(" * 500 + "1" + ")" * 500 + " }}",
        "{% for a in 'abcdefghij' %}" * 5 + "x" + "{% endfor %}" * 5,
        "{% for a in 'abcdefghij' %}" * 6 + "{% set x = a %}" + "{% endfor %}" * 6,
        "{% macro m() %}{{ m() }}{% endmacro %}{{ m() }}",
        "{% include 'mine' %}",
    ],
)
def test_a_layout_that_would_never_end_is_stopped(faults: Faults, runaway: str) -> None:
    assert len(faults(f"<text>{runaway}</text>")) == 1


def test_a_layout_that_writes_without_bound_is_stopped(faults: Faults) -> None:
    flood = "x" * (MOST_LETTERS // 100)
    found = faults("{% for a in 'abcdefghijklmnopqrst' * 1 %}{% endfor %}<text>x</text>")
    assert "numbers only" in found[0].message
    body = "{% for a in 'abcdefghijk' %}{% for b in 'abcdefghijk' %}" + flood
    assert (
        "letters of markup" in faults(f"<text>{body}{{% endfor %}}{{% endfor %}}</text>")[0].message
    )


def test_words_that_macros_and_filters_put_together_stay_whole(tmp_path: Path) -> None:
    (tmp_path / "layouts").mkdir()
    (tmp_path / "layouts" / "mine.xml.jinja").write_text(
        "{% macro m(x) %}<b>{{ x }}</b>{% endmacro %}"
        "{{ [m('1 & 2'), '<3>']|join(', ') }} {{ lot ~ ' ' ~ m(4) }} {{ (lot + '!')|upper }}"
        "{% for a, b in [('x', 1), ('y', 2)] %} {{ a * 1 if a is number else a }}{{ b }}"
        "{% endfor %} {{ lot|replace('&', 'and') }} {{ {'k': 1.25}['k']|round(1) }}"
    )
    said = Layouts(tmp_path).render("mine", {"lot": "a & b"})
    assert said == ("<b>1 &amp; 2</b>, &lt;3&gt; a &amp; b <b>4</b> A &amp; B! x1 y2 a and b 1.2")


def test_a_list_is_never_printed_as_a_program_writes_it(faults: Faults) -> None:
    (found,) = faults("<text>{{ product.layers }}</text>")
    assert "go through it with a loop" in found.message


def test_a_mistyped_field_is_an_error_that_names_the_nearest(faults: Faults) -> None:
    (found,) = faults("<text>\n{{ product.patern }}</text>")
    assert found.rule == "layout-unknown-field"
    assert found.place.line == 3
    assert found.hint == "Did you mean 'pattern'?"
    (found,) = faults("<text>{{ produkt.sku }}</text>")
    assert "'produkt' is undefined" in found.message


def test_a_fault_of_grammar_names_the_line(faults: Faults) -> None:
    (found,) = faults("<text>ok</text>\n\n<text>{% if %}</text>")
    assert found.rule == "layout-fault"
    assert found.place.line == 4


def test_what_a_maker_typed_is_never_read_as_markup(tmp_path: Path) -> None:
    (tmp_path / "layouts").mkdir()
    (tmp_path / "layouts" / "mine.xml.jinja").write_text("<text>{{ lot }}</text>")
    said = Layouts(tmp_path).render("mine", {"lot": '</text><code value="x"/> & {{ 1 }}'})
    assert "<code" not in said
    assert "&amp;" in said


def test_an_unknown_layout_names_the_nearest(tmp_path: Path) -> None:
    with pytest.raises(LabelerError) as caught:
        Layouts(tmp_path).file("bag-stripe")
    assert caught.value.findings[0].hint == "Did you mean 'bag-strip'?"


def test_a_layout_that_is_no_text_is_told(tmp_path: Path) -> None:
    (tmp_path / "layouts").mkdir()
    (tmp_path / "layouts" / "mine.xml.jinja").write_bytes(b"\xff\xfe\x00PNG")
    with pytest.raises(LabelerError) as caught:
        Layouts(tmp_path).render("mine", {})
    assert caught.value.findings[0].rule == "layout-unreadable"
