"""Sound TOML that says wrong things: every fault, with its line, key and remedy."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import TypeAdapter, ValidationError

from labeler.catalog.values import Links, web_address
from labeler.codes.links import product_link
from labeler.findings import Grade

Bench = Any


@pytest.mark.parametrize(
    ("old", "new", "key", "expected"),
    [
        ('"3/8 oz", "1/2', '"3/8", "1/2', "patterns.river-vesper.weights[0]", "unit"),
        ('"3/8 oz", "1/2', 'nan, "1/2', "patterns.river-vesper.weights[0]", "3/8 oz"),
        ('"3/8 oz", "1/2', 'inf, "1/2', "patterns.river-vesper.weights[0]", "3/8 oz"),
        ('"3/8 oz", "1/2', '-1, "1/2', "patterns.river-vesper.weights[0]", "3/8 oz"),
        ('"3/8 oz", "1/2', '"-3/8 oz", "1/2', "patterns.river-vesper.weights[0]", "3/8 oz"),
        ('"3/8 oz", "1/2', '"nan oz", "1/2', "patterns.river-vesper.weights[0]", "3/8 oz"),
        ('"3/8 oz", "1/2', '"0 oz", "1/2', "patterns.river-vesper.weights[0]", "above 0"),
        ('"3/8 oz", "1/2', '"3/0 oz", "1/2', "patterns.river-vesper.weights[0]", ""),
        ('"3/8 oz", "1/2', '"375 oz", "1/2', "patterns.river-vesper.weights[0]", "5000 g"),
        ('["4/0"]', "[4]", "patterns.river-vesper.hook_sizes[0]", '"4/0"'),
        ('["4/0"]', '["0/4"]', "patterns.river-vesper.hook_sizes[0]", "1/0"),
        ('"4.75"', "4.75", "patterns.river-vesper.price", '"4.75"'),
        ('"4.75"', '"-4.75"', "patterns.river-vesper.price", '"4.75"'),
        ('"4.75"', '"nan"', "patterns.river-vesper.price", '"4.75"'),
        ('"4.75"', '"1e3"', "patterns.river-vesper.price", '"4.75"'),
        ("strands = 22", "strands = 0", "colours.melon.layers[0].strands", "from 1 to 2000"),
        ("strands = 22", 'strands = "x"', "colours.melon.layers[0].strands", "from 1 to 2000"),
        ("#5b5a2b", "#5b5a2", "colours.melon.layers[0].ink", "#rrggbb"),
        ('"97 %"', '"97"', "materials.lead.composition.lead", "100 %"),
        ('"97 %"', "97", "materials.lead.composition.lead", "100 %"),
        ('"97 %"', '"101 %"', "materials.lead.composition.lead", "100 %"),
        ('["US", "US-CA"]', '["usa"]', "sale.markets[0]", "US-CA"),
        ('["US", "US-CA"]', "[]", "sale.markets", "something in it"),
        ('["US", "US-CA"]', '"US"', "sale.markets", "list"),
        ('"9521234"', '"95-21"', "maker.gs1_prefix", "digits"),
        ('code = "RV"', 'code = "R/V"', "patterns.river-vesper.code", "capitals and digits"),
        ('code = "RV"', 'code = "R\\nV"', "patterns.river-vesper.code", "capitals and digits"),
        ('name = "River Vesper"', 'name = " "', "patterns.river-vesper.name", "not a blank"),
        ('name = "River Vesper"', "name = 7", "patterns.river-vesper.name", "text in quotes"),
        (
            'name = "River Vesper"',
            f'name = "{"x" * 201}"',
            "patterns.river-vesper.name",
            "at most 200",
        ),
    ],
)
def test_a_wrong_value_says_where_what_stands_there_and_what_should(
    bench: Bench, old: str, new: str, key: str, expected: str
) -> None:
    bench.change(old, new)
    finding = next(f for f in bench.findings() if f.rule == "wrong-value")
    assert finding.grade is Grade.STOP
    assert (finding.place.file, finding.place.key) == ("catalog.toml", key)
    assert finding.place.line == bench.line_of(new)
    assert finding.found
    assert expected in finding.expected


def test_an_unknown_key_names_the_nearest(bench: Bench) -> None:
    bench.change('weights = ["3/8', 'wieghts = ["3/8')
    finding = bench.finding("unknown-key")
    assert finding.place.key == "patterns.river-vesper.wieghts"
    assert "'weights'" in finding.hint
    missing = bench.finding("missing-key")
    assert missing.place.line == bench.line_of("[patterns.river-vesper]")
    assert "weights is missing" in missing.message


def test_an_unknown_table_names_the_nearest(bench: Bench) -> None:
    bench.change("[hooks.stout]", "[hook.stout]")
    assert "'hooks'" in bench.finding("unknown-key").hint


def test_a_word_off_the_list_names_the_list_and_the_nearest(bench: Bench) -> None:
    bench.change('style = "swim"', 'style = "swimm"')
    finding = bench.finding("wrong-value")
    assert "football" in finding.expected
    assert "'swim'" in finding.hint


def test_a_missing_table_is_named(bench: Bench) -> None:
    bench.change("[sale]\nmarkets", "[sales]\nmarkets")
    assert "[sale] is missing" in bench.finding("missing-key").message
    assert "'sale'" in bench.finding("unknown-key").hint


def test_inline_tables_and_dotted_keys_and_lists_of_tables_have_their_lines(bench: Bench) -> None:
    bench.append(
        """
[colours.ash]
code = "ASH"
name = "Ash"
[[colours.ash.layers]]
material = "silicone"
shade = "ash"
ink = "#777777"
strands = 10
[[colours.ash.layers]]
material = "silicone"
shade = "soot"
ink = "black"
strands = 10
flake = { ink = "silver" }
flake_.x = 1
"""
    )
    places = {(f.place.key, f.place.line) for f in bench.findings() if f.grade is Grade.STOP}
    assert places == {
        ("colours.ash.layers[1].ink", bench.line_of('ink = "black"')),
        ("colours.ash.layers[1].flake.ink", bench.line_of('flake = { ink = "silver"')),
        ("colours.ash.layers[1].flake_", bench.line_of("flake_.x")),
    }


def test_all_faults_are_told_at_once_structure_and_names_together(bench: Bench) -> None:
    bench.change('weights = ["3/8 oz", "1/2 oz"]', 'weights = ["3/8 oz", "1/2"]')
    bench.change('head = "vesper"', 'head = "vespre"')
    bench.change('style = "swim"', 'style = "swam"')
    bench.change('city = "Low Ferry"\n', "")
    bench.change('colours = ["melon", "dusk"]', 'colours = ["mellon", "dusk"]')
    bench.write("products.csv", "sku,weight\nRV-38-40-MLN,3-Aug\n")
    stops = [f for f in bench.findings() if f.grade is Grade.STOP]
    assert sorted(f.rule for f in stops) == [
        "cell-misread",
        "missing-key",
        "unknown-name",
        "unknown-name",
        "wrong-value",
        "wrong-value",
    ]


def test_findings_come_in_the_order_of_the_file(bench: Bench) -> None:
    bench.change('style = "swim"', 'style = "swam"')
    bench.change('price = "4.75"', "price = 4.75")
    bench.change('city = "Low Ferry"', "city = 3")
    lines = [f.place.line for f in bench.findings() if f.grade is Grade.STOP]
    assert lines == sorted(lines)


@pytest.mark.parametrize(
    ("old", "new", "key", "near"),
    [
        ('alloy = "lead"', 'alloy = "leed"', "heads.vesper.alloy", "lead"),
        ('material = "steel"', 'material = "stele"', "hooks.stout.material", "steel"),
        ('hook = "stout"', 'hook = "Stout"', "patterns.river-vesper.hook", "stout"),
        ('head = "vesper"', 'head = "Vesper head"', "patterns.river-vesper.head", "vesper"),
        ('"melon", "dusk"', '"melon", "dsk"', "patterns.river-vesper.colours[1]", "dusk"),
        (
            'material = "silicone"',
            'material = "silcone"',
            "colours.melon.layers[0].material",
            "silicone",
        ),
    ],
)
def test_a_name_that_names_nothing_has_the_nearest_beside_it(
    bench: Bench, old: str, new: str, key: str, near: str
) -> None:
    bench.change(old, new)
    finding = next(f for f in bench.findings() if f.rule == "unknown-name")
    assert (finding.place.key, finding.place.line) == (key, bench.line_of(new))
    assert f"'{near}'" in finding.hint


@pytest.mark.parametrize(
    ("more", "key"),
    [
        ('guard = "brush"', "patterns.river-vesper.guard"),
        ('bag = "tall"', "patterns.river-vesper.bag"),
        ('tie = { thread = "waxed" }', "patterns.river-vesper.tie.thread"),
        ('\n[dealers.pier]\nname = "Pier"\ntier = "dealer"', "dealers.pier.tier"),
        ('\n[guards.brush]\nname = "Brush"\nmaterial = "nylon"', "guards.brush.material"),
    ],
)
def test_every_key_that_holds_a_name_is_looked_up(bench: Bench, more: str, key: str) -> None:
    bench.append(more)
    assert bench.finding("unknown-name").place.key == key


def test_a_head_of_silicone_is_the_wrong_kind(bench: Bench) -> None:
    bench.change('alloy = "lead"', 'alloy = "silicone"')
    finding = bench.finding("wrong-kind")
    assert "lead" in finding.hint
    assert finding.expected == "alloy"


def test_more_than_the_whole_is_no_composition(bench: Bench) -> None:
    bench.change('antimony = "3 %"', 'antimony = "3.5 %"')
    finding = bench.finding("composition-over")
    assert finding.found == "100.5 %"
    assert finding.place.key == "materials.lead.composition"


@pytest.mark.parametrize(
    ("more", "rule", "key"),
    [
        ('hook_for = { "5/8 oz" = "5/0" }', "weight-not-listed", 'hook_for."5/8 oz"'),
        ('prices = { "1/4 oz" = "5" }', "weight-not-listed", 'prices."1/4 oz"'),
        ('whole = { "1/4 oz" = "9 g" }', "weight-not-listed", 'whole."1/4 oz"'),
        ('prices = { "heavy" = "5" }', "wrong-value", "prices.heavy"),
        ('prices = { "1/2 oz" = "5", ".5 oz" = "6" }', "duplicate-weight", 'prices.".5 oz"'),
    ],
)
def test_keys_that_are_weights_must_be_the_patterns_weights(
    bench: Bench, more: str, rule: str, key: str
) -> None:
    bench.append(more)
    finding = bench.finding(rule)
    assert finding.place.key == f"patterns.river-vesper.{key}"
    assert finding.place.line == bench.line_of(more)


def test_a_weight_written_twice_in_two_ways_is_one_weight(bench: Bench) -> None:
    bench.change('["3/8 oz", "1/2 oz"]', '["3/8 oz", "1/2 oz", ".375 oz"]')
    assert bench.finding("listed-twice").place.key == "patterns.river-vesper.weights[2]"


def test_a_weight_without_a_hook_among_others_with_one_is_told(bench: Bench) -> None:
    bench.change('hook_sizes = ["4/0"]', 'hook_for = { "3/8 oz" = ["3/0", "4/0"] }')
    finding = bench.finding("hook-missing")
    assert (finding.grade, finding.found) == (Grade.FIX, "1/2 oz")
    assert "RV-12-MLN" in {product.sku for product in bench.read().products}


@pytest.mark.parametrize(
    ("links", "good"),
    [
        ("https://go.example.com", True),
        ("https://go.example.com/j", True),
        ("go.example.com", False),
        ("ftp://go.example.com", False),
        ("https://go.example.com?x=1", False),
        ("https://go example.com", False),
        ("https://", False),
        ("https://[::1", False),
        ("https://go.example.com:99999", False),
        ("https://go.example.com:0", False),
        ("https://go.example.com/a/../b", False),
        ("https://go.example.com/%2E%2e/b", False),
        ("https://go.example.com/50%", False),
        ("https://ann@go.example.com", False),
        ("https://gö.example.com", False),
    ],
)
def test_links_begin_with_an_address(bench: Bench, links: str, good: bool) -> None:
    bench.change('postcode = "54000"', f'postcode = "54000"\nlinks = "{links}"')
    assert good != any(f.place.key == "maker.links" for f in bench.findings())


_SCHEMES = ("javascript:alert(1)", "javascript://x/%0aalert(1)", "data:text/html,x",
            "file:///etc/passwd", "file:", "vbscript:x", "blob:https://x.example.com/1",
            "ftp://x.example.com", "www.example.com/<b>", "www.example.com/a b")  # fmt: skip


@pytest.mark.parametrize("site", _SCHEMES)
def test_only_the_web_s_addresses_become_links(bench: Bench, site: str) -> None:
    bench.change('postcode = "54000"', f'postcode = "54000"\nsite = "{site}"')
    assert bench.finding("wrong-value").place.key == "maker.site"
    assert web_address(site) == ""


@pytest.mark.parametrize(
    "site",
    ["www.example.com", "https://example.com/jigs?x=1#top", "http://x.example.com:8080",
     "www.müller.example", "HTTPS://EXAMPLE.COM"],
)  # fmt: skip
def test_a_site_is_taken_as_buyers_type_it(bench: Bench, site: str) -> None:
    bench.change('postcode = "54000"', f'postcode = "54000"\nsite = "{site}"')
    assert not any(f.place.key == "maker.site" for f in bench.findings())
    assert web_address(site).lower().startswith("http")


@pytest.mark.parametrize("letter", [chr(code) for code in (*range(32, 127), 0xE4, 0x2028, 0x1F3A3)])
def test_links_that_pass_the_check_can_begin_every_link(letter: str) -> None:
    """Whatever the catalog takes, labels, books and pages can be made with."""
    made = 0
    for stem in (f"https://go.example.com/{letter}x", f"https://g{letter}o.example.com",
                 f"https://go.example.com{letter}"):  # fmt: skip
        try:
            taken = TypeAdapter(Links).validate_python(stem)
        except ValidationError:
            continue
        made += 1
        for gtin in (None, "9521234543213"):
            assert product_link(taken, gtin, "RV-38", "25193017").startswith(stem.rstrip("/"))
    assert bool(made) is ((letter.isalnum() and letter.isascii()) or letter in "-._~:/@!$&'()*+,;=")


@pytest.mark.parametrize("email", ["x", "@x", "a@b?bcc=c@d", "a b@c", "<a@b>", "a@b,c@d", "a@b/c"])
def test_an_e_mail_address_is_one_address(bench: Bench, email: str) -> None:
    bench.change('postcode = "54000"', f'postcode = "54000"\nemail = "{email}"')
    assert bench.finding("wrong-value").place.key == "maker.email"


@pytest.mark.parametrize(
    ("prefix", "rule"),
    [
        ("9521234", "prefix-for-samples"),
        ("2012345", "prefix-not-licensed"),
        ("9781234", "prefix-not-licensed"),
        ("614141", "prefix-without-nought"),
        ("0614141", ""),
    ],
)
def test_a_company_prefix_must_be_one_that_gs1_gives_out(
    bench: Bench, prefix: str, rule: str
) -> None:
    # GS1 General Specifications, 1.4; 0614141 is the prefix of GS1's own examples.
    bench.change('"9521234"', f'"{prefix}"')
    assert {f.rule for f in bench.findings() if "prefix" in f.rule} == ({rule} if rule else set())


def test_a_hook_in_a_list_for_a_weight_says_what_a_hook_is(bench: Bench) -> None:
    bench.append('hook_for = { "3/8 oz" = ["3/0", 4] }')
    finding = bench.finding("wrong-value")
    assert finding.place.key == 'patterns.river-vesper.hook_for."3/8 oz"[1]'
    assert '"4/0"' in finding.expected


@pytest.mark.parametrize(
    ("key", "meant"),
    [("zip", "postcode"), ("ZIP-code", "postcode"), ("website", "site"), ("staff", "employees")],
)
def test_a_key_that_has_another_name_here_is_told_by_it(bench: Bench, key: str, meant: str) -> None:
    bench.change("[maker]\n", f'[maker]\n{key} = "54899"\n')
    assert bench.finding("unknown-key").hint == f"Did you mean {meant!r}?"


def test_a_table_for_one_is_told_by_that_for_all(bench: Bench) -> None:
    bench.change("[maker]\n", '[color.pea]\nname = "Pea"\n\n[maker]\n')
    assert bench.finding("unknown-key").hint == "Did you mean 'colours'?"


def test_yes_is_no_number_of_people(bench: Bench) -> None:
    bench.change("[maker]\n", "[maker]\nemployees = true\n")
    assert bench.finding("wrong-value").expected == "a whole number, such as 2"
