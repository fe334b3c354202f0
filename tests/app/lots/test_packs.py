"""Assorted packs: what their label says and the checker holds; from a bad hook to who has them."""

from __future__ import annotations

import datetime as dt
import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from labeler.catalog.model import Product
from labeler.catalog.read import examine, read_catalog
from labeler.checker.rules.stated import is_weight, weights
from labeler.cli.group import run
from labeler.disclosures.needed import card_panel, needed
from labeler.disclosures.sale import Status, may_be_sold
from labeler.findings import Place
from labeler.layout.facts import facts_of
from labeler.ledger.documents import PRODUCT
from labeler.units import Length

ROOT = Path(__file__).parents[3]
DAY = dt.date(2026, 11, 29)
PACKS = """
[packs.trio]
code = "WT3"
name = "Weir Trio"
of = { MW-38-50-MAG = 1, MW-38-50-OAK = 1, "miller's weir bilberry 3/8" = 1 }
assortment = "Three colors"
price = "14.50"

[packs.box]
code = "BOX-4"
name = "A First Box"
of = { RM-14-30-SBR = 2, LL-14-30-LNB = 1, TD-18-4-INK = 1 }
kind = "fishing jig"
bag = "tall"
"""


@pytest.fixture(scope="module")
def line(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo with two packs."""
    folder = tmp_path_factory.mktemp("packs") / "line"
    shutil.copytree(
        ROOT / "demo_catalog", folder, ignore=shutil.ignore_patterns("prints", "ledger*")
    )
    with (folder / "catalog.toml").open("a", encoding="utf-8") as file:
        file.write(PACKS)
    return folder


@pytest.fixture(scope="module")
def packs(line: Path) -> dict[str, Product]:
    return {product.sku: product for product in read_catalog(line, DAY).products}


def said(product: Product, kind: str) -> list[str]:
    panel = card_panel(Length.from_inches(3), Length.from_inches(4))
    return [
        one.full.plain
        for one in needed(product, product.markets, DAY, panel=panel)
        if one.kind == kind and one.duty != "optional"
    ]


def test_the_quantity_names_each_kind_with_its_weight_and_the_total_last(
    packs: dict[str, Product],
) -> None:
    """16 CFR 500.28(a)(1) and (2), as its example (iii) has them."""
    assert said(packs["WT3"], "quantity") == [
        "1 Magpie, 3/8 oz (10.6 g); 1 Wet Oak, 3/8 oz (10.6 g); 1 Bilberry, 3/8 oz (10.6 g). "
        "Total: 3 JIGS"
    ]
    assert said(packs["BOX-4"], "quantity") == [
        "2 Reedmace, Sunday Bream, 1/4 oz (7.08 g); 1 Loonlight, Loon Back, 1/4 oz (7.08 g); "
        "1 Thistledown, Ink Bottle, 1/8 oz (3.54 g). Total: 4 JIGS"
    ]
    assert said(packs["BOX-4"], "head weight") == []


def test_lead_in_one_jig_is_lead_in_the_bag_and_none_is_called_free_of_it(
    packs: dict[str, Product],
) -> None:
    box = packs["BOX-4"]
    assert box.has_lead
    assert said(box, "material") == [
        "Reedmace, Sunday Bream and Thistledown, Ink Bottle: Head: hard lead. Contains lead."
    ]
    assert len(said(box, "caution")) == 2
    assert may_be_sold(packs["LL-14-30-LNB"], "US-NH", DAY).status is not Status.BARRED
    assert may_be_sold(box, "US-NH", DAY).status is Status.BARRED


def test_a_weight_is_any_of_its_jigs_and_stands_alone_only_where_all_agree(
    packs: dict[str, Product],
) -> None:
    for text, of in (("1/8 oz", True), ("1/4 oz", True), ("3/8 oz", False)):
        (hit,) = weights(text)
        assert is_weight(hit, packs["BOX-4"]) is of
    for sku, number in (("WT3", "3\N{FRACTION SLASH}8"), ("BOX-4", "")):
        facts = facts_of(packs[sku], lot="", link="", width=1, height=1, black=False)
        assert facts["product"]["weight_number"] == number


def test_a_pack_is_kept_with_all_that_is_in_it(packs: dict[str, Product]) -> None:
    kept = json.loads(json.dumps(PRODUCT.write(packs["BOX-4"])))
    assert PRODUCT.read(kept, Place()) == packs["BOX-4"]


def test_what_is_wrong_with_a_pack_is_told_all_at_once(line: Path, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(line, tmp_path / "line"))
    with (folder / "catalog.toml").open("a", encoding="utf-8") as file:
        file.write("""
[packs.bad]
code = "WT3"
name = "Bad"
of = { MW-38-50-MAG = 1, "magpie 3/8 miller's weir" = 2, MW-38-50-MGA = 1, "RM-*" = 1 }
""")
    catalog, found = examine(folder, DAY)
    assert catalog is None
    rules = [each.rule for each in found if each.grade.value == "stop"]
    assert sorted(rules) == ["duplicate-sku", "pack-part", "pack-part", "sku-unknown"]


@pytest.fixture
def do(line: Path, capsys: pytest.CaptureFixture[str]) -> Callable[..., str]:
    def call(*words: object, status: int = 0, at: Path = line) -> str:
        capsys.readouterr()
        done = run(["--catalog", str(at), *map(str, words)])
        out, err = capsys.readouterr()
        assert done == status, (words, out, err)
        return str(out + err)

    return call


@pytest.mark.siege
def test_labels_and_cards_of_packs_pass_and_the_book_says_that_it_has_none(
    do: Callable[..., str], tmp_path: Path
) -> None:
    both = "--sku", "WT3", "--sku", "BOX-4"
    out = tmp_path / "out.pdf"
    said = do("bags", *both, "--sku", "MW-38-50-MAG", "--sheet", "letter-2x5", "--out", out)
    assert "layout bag-panel, bag-pack" in said
    assert "nothing stops it" in said
    assert "nothing stops it" in do("cards", *both, "--out", out)
    assert "[layout-not-for-packs]" in do(
        "bags", "--sku", "WT3", "--layout", "bag-panel", "--sheet", "letter-2x5", "--out", out,
        status=2,
    )  # fmt: skip
    some = "--only", "MW-38-*", "--only", "WT3"
    book = do("catalog", "--for", "dealer", *some, "--out", tmp_path / "book.pdf")
    assert "[packs-not-in-book]" in book
    assert "packs: 1 of them" not in do("prices", "--sku", "WT3")


def test_packs_take_no_jig_that_is_promised_without_a_word(
    do: Callable[..., str], line: Path, tmp_path: Path
) -> None:
    at = Path(shutil.copytree(line, tmp_path / "line", ignore=shutil.ignore_patterns("ledger*")))
    opened = [
        json.loads(do("lot", "assign", sku, "--count", "6", "--json", at=at))["lots"][0]["lot"]
        for sku in ("MW-38-50-MAG", "MW-38-50-OAK", "MW-38-50-BIL")
    ]
    ordered = do("order", "MW-38-50-MAG=4", "--dealer", "odd-pail", "--json", at=at)
    number, fill = json.loads(ordered)["order"]["order"], ("lot", "assign", "WT3", "--count", "9")
    said = do(*fill, status=2, at=at)
    asks = f"stop  order {number}: these packs take what is promised to this order; "
    assert f"{asks}found short afterwards: 1 of MW-38-50-MAG [order-left-short]" in said
    assert "6 jigs; 6 on hand" in do("lot", "list", opened[0], at=at).replace("jigs, ", "jigs; ")
    told = json.loads(do(*fill, "--sure", "--json", at=at))["findings"]
    assert [(each["rule"], each["grade"]) for each in told] == [("order-left-short", "fix")]
    assert do("lot", "assign", "WT3", "--count", "3", "--key", "a", "--sure", at=at)
    assert "order-left-short" not in do(
        "lot", "assign", "WT3", "--count", "3", "--key", "a", at=at
    ), "the same request again"


@pytest.mark.daily
def test_from_a_bad_hook_through_a_pack_to_the_dealer_who_has_it(
    do: Callable[..., str], line: Path
) -> None:
    def opened(*words: str) -> str:
        return str(json.loads(do("lot", "assign", *words, "--json"))["lots"][0]["lot"])

    hook = "--material", "hook=HK-1"
    jigs = [opened(sku, "--count", "12", *hook) for sku in ("MW-38-50-MAG", "MW-38-50-OAK")]
    said = do("lot", "assign", "WT3", "--count", "18", status=2)
    assert "too few of MW-38-50-BIL are on hand" in said
    jigs.append(opened("MW-38-50-BIL", "--count", "12", "--material", "hook=HK-2"))
    assert "[pack-count]" in do("lot", "assign", "WT3", "--count", "17", status=2)
    pack = opened("WT3", "--count", "18")
    found = {each["lot"]: each for each in json.loads(do("trace", "HK-1", "--json"))["lots"]}
    assert set(found) == {*jigs[:2], pack}, "the pack too, and not the jig on the other hook"
    assert [found[lot]["on_hand"] for lot in (*jigs[:2], pack)] == [6, 6, 18]
    assert found[pack]["made_of"] == jigs
    assert found[pack]["materials"] == ["hook=HK-1", "hook=HK-2"]
    kept = json.loads(do("order", "WT3=8", "--dealer", "odd-pail", "--json"))
    number, bench = kept["order"]["order"], line.parent / "bench.pdf"
    made = json.loads(do("orders", number, "--cards", bench, "--json"))
    tied = {each["sku"]: each["jigs"] for each in made["tie"]}
    assert tied == dict.fromkeys(("MW-38-50-MAG", "MW-38-50-OAK", "MW-38-50-BIL"), 2)
    wrong = json.loads(
        do("ship", pack, "--fair", "Spring Fair", "--count", "9", "--even-so", "--json")
    )
    do("ship", "--mistake", wrong["slip"])
    do("order", "--cancel", number, "--why", "never mind")
    here = [json.loads(do("lot", "list", lot, "--json"))["on_hand"] for lot in (*jigs, pack)]
    assert here == [6, 6, 6, 18], "a parcel taken back gives the packs back, and no jig twice"
    do("ship", pack, "--to", "odd-pail", "--count", "9")
    said = do("trace", "HK-1")
    assert f"packs of jigs of {', '.join(jigs)}" in said
    assert f"some in packs {pack}" in said
    assert "42 made (18 of them jigs that packs were filled with)" in said
    out = line.parent / "lot.pdf"
    for words in (("card", pack, "--out", out), ("weigh", pack), ("weigh", pack, "10.6")):
        refused = do("lot", *words, status=2)
        assert f"expected {', '.join(jigs)} [pack-not-a-batch]" in refused
    assert "an assorted pack isn't tied" in do("tied", "WT3 = 18", status=2)
    assert "The Odd Pail" in said
    do("lot", "hold", jigs[0], "--why", "hooks break")
    assert "hooks break" in do("ship", pack, "--to", "odd-pail", "--count", "3", status=2)
    do("lot", "release", jigs[0], "--why", "it was the pliers")
    spare = opened("WT3", "--count", "3")
    do("lot", "void", spare, "--why", "typed twice")
    stories = json.loads(do("trace", jigs[0], "--json"))["lots"]
    of_first = next(each for each in stories if each["lot"] == jigs[0])
    assert of_first["on_hand"] == 6
    assert of_first["in_packs"] == [pack], "the void packs hold none"
    do("lot", "void", spare, "--why", "typed twice")
    assert json.loads(do("trace", jigs[0], "--json"))["lots"][0]["on_hand"] == 6, "once only"
