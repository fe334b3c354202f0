"""Claims in the words that makers use: those that must be found, those that must be left alone.

The tables are made of parts, so that no rule can pass by knowing the sentences: verbs by places,
denials by metals, friends by animals, and each in the ways that it may be printed. Source of what
is a claim and of what qualifies it: 16 CFR 323.1(a) and 323.2, 62 FR 63756, 16 CFR 260.4, 260.6
and 260.8 to 260.10, 16 CFR 1200.2; what makers write: common practice, no published source.
"""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest

from labeler.catalog.read import read_catalog
from labeler.disclosures import market_rules, wording
from labeler.disclosures.rules import Effect
from labeler.disclosures.wording import contradicted
from labeler.findings import Grade

DAY = dt.date(2026, 11, 28)

VERBS = [
    "Made", "Manufactured", "Built", "Produced", "Created", "Crafted", "Handmade", "Hand-made",
    "Hand made", "Handcrafted", "Hand-tied", "Made 100%", "Proudly made", "Made by hand",
    "Made with pride", "Designed and made", "Hand-poured", "Made and packed",
]  # fmt: skip
PLACES = [
    "the USA", "U.S.A.", "the U.S.A.", "USA", "U.S.", "the US", "the U. S. A.", "the United States",
    "the United States of America", "America", "Wisconsin", "Alder Ferry, Wisconsin",
    "Alder Ferry, WI", "Alder Ferry, WI 54899", "New York", "West Virginia", "the U.S. of A.",
    "northern Minnesota, USA", "St. Croix Falls, Wisconsin", "the good old USA",
]  # fmt: skip
ADJECTIVES = ["USA", "U.S.", "US", "American", "Wisconsin", "100% American", "All-American"]
US = [
    *(f"{verb} in {place}" for verb, place in itertools.product(VERBS, PLACES)),
    *(f"{adjective}-made" for adjective in ADJECTIVES),
    *(f"{adjective} handmade" for adjective in ADJECTIVES),
    "Product of the USA", "Product of the United States", "Country of origin: USA", "MadeInUSA",
    "#madeinusa", "Proudly American", "True American quality", "Tied by us \U0001f1fa\U0001f1f8",
    "MADE IN (USA)", "Made in “America”", "Hecho en EE. UU.", "Fabriqué aux États-Unis",
    "100 % USA", "Genuine American craftsmanship", "Made right here in Wisconsin",
]  # fmt: skip

DENIALS = [
    "No {}", "Zero {}", "0% {}", "Without {}", "Free of {}", "Free from {}", "Contains no {}",
    "Has no {}", "Does not contain {}", "Does not contain any {}", "Doesn’t contain {}",
    "No added {}", "No toxic {}", "{}-free", "{} free", "{}\u2011free", "{} – free", "{}-Free!",
    "100% {}-free", "Non-{}", "Not made with {}", "Made without {}", "Now {}-free.",
]  # fmt: skip
LEAD = [
    *(each.format(metal) for each, metal in itertools.product(DENIALS, ["lead", "Pb"])),
    "Leadless", "LEADFREE", "Unleaded", "Lead safe", "Lead-safe", "lead\u00adfree", "L E A D free",
    "Lead-\nfree", "A lead alternative", "Tin instead of lead", "Lead: 0 %", "This is not lead",
]  # fmt: skip

ANIMALS = ["wildlife", "loons", "ducks", "birds", "pets", "waterfowl", "eagles", "swans", "turtles"]
HARMLESS = [
    *(f"Safe for {animal}" for animal in ANIMALS),
    *(f"Safe for all {animal}" for animal in ANIMALS),
    *(f"{animal.removesuffix('s')}-{word}" for animal in ANIMALS for word in ("safe", "friendly")),
    *(f"{what}-friendly" for what in ("Eco", "Earth", "Planet", "Lake", "Environmentally")),
    *(f"{word}." for word in ("Biodegradable", "Organic", "Compostable", "Sustainable")),
    "Bio-\ndegradable", "Non poisonous", "Not poisonous", "Nonpoisonous", "Poison-free",
    "Won’t harm loons", "Good for the environment", "Kind to our lakes", "No toxins",
    "Environmentally responsible", "Contains no harmful chemicals",
]  # fmt: skip
APPROVED = [
    f"{who} {how}"
    for who in ("FDA", "F.D.A.", "EPA", "CPSC", "USDA", "Government")
    for how in ("approved", "certified", "-approved")
] + ["Approved by the FDA", "Meets CPSC standards", "Food safe", "Prop 65 compliant"]
CHILDREN = [
    *(f"For {who}" for who in ("kids", "children", "toddlers", "the little ones", "all kids")),
    *(f"Ages {age}" for age in ("3+", "3 and up", "8+", "12 and up", "5+")),
    *(f"For ages {age} and up" for age in range(3, 13)),
    "Kid approved", "Kid-friendly", "Kid's first jig", "My first jig", "A first toy", "First toy",
    "Child-safe", "Children’s jig", "Perfect for children", "For young anglers", "Kid tested",
]  # fmt: skip

ABROAD = ["China", "Taiwan", "Mexico", "Canada", "South Korea", "P.R.C.", "England", "Viet Nam"]
ORIGIN = [
    f"{verb} in {place}"
    for verb, place in itertools.product(["Made", "Hand-tied", "Manufactured", "Crafted"], ABROAD)
] + ["Product of China", "Country of origin: China", "Hooks made in China", "Hook from Norway"]

FOUND: dict[str, list[str]] = {
    "us-claim-made-in-usa": US,
    "house-claim-lead-free": LEAD,
    "house-claim-non-toxic": HARMLESS,
    "house-claim-green": [text for text in HARMLESS if "oison" not in text and "No" not in text
                          and "no " not in text],
    "house-claim-approved": APPROVED,
    "us-claim-children": CHILDREN,
    "house-claim-origin": ORIGIN,
}  # fmt: skip


def shouted(texts: Iterable[str]) -> Iterable[str]:
    """Yield each text as it may stand on a label: as it is, in capitals, and amid others.

    Lines of a label are read one after the other, with no stop between them.
    """
    for text in texts:
        yield from (text, text.upper(), f"Skirted football jig. {text}. Rinse after use")
        yield f"Flat-eye swim hook {text} Head 3/8 oz (10.6 g) nom. Sharp hook."


def rules(text: str, product: Any) -> set[str]:
    return {one.rule for one in contradicted(text, product, ("US-WI",), DAY)}


@pytest.mark.parametrize("rule", FOUND)
def test_the_claim_is_found_however_it_is_worded_and_printed(jig: Any, rule: str) -> None:
    one = jig()
    missed = [text for text in shouted(FOUND[rule]) if rule not in rules(text, one)]
    assert not missed, f"{len(missed)} missed: {missed[:20]}"


QUALIFIED = [
    f"{verb} in {place}{how}"
    for verb in ("Made", "Hand-tied", "Assembled", "Built")
    for place in ("the USA", "America", "Wisconsin", "Alder Ferry, WI")
    for how in (
        " with imported hooks", " from imported parts", ", hooks made in Japan",
        " of US and foreign materials", " on Japanese hooks", " with a hook from Japan",
    )
]  # fmt: skip
PARTS = [
    f"{text}"
    for part in ("chenille", "silicone", "skirts", "thread", "rubber", "hair")
    for text in (
        f"Made with US {part}", f"Made with US-made {part}", f"{part.title()} made in USA",
        f"Tied with American {part}",
    )
]  # fmt: skip
NOT_SAID = [
    f"{denial} {claim}"
    for denial in ("Not", "Never", "This is not a", "It isn't")
    for claim in ("lead-free", "lead-free jig", "biodegradable", "made in USA", "for kids", "a toy")
]
CAUTIONS = [
    f"Keep {how}{who}"
    for how in ("away from ", "out of reach of ", "from ", "away from small ")
    for who in ("children", "kids", "toddlers", "children and pets")
]
TACKLE = [
    f"{verb} {what}{where}"
    for verb in ("Tied on", "Poured as", "Made with", "Built around", "Fished on")
    for what in (
        "a leadhead", "a lead head", "lead wire", "a lead eye", "a 3/8 oz lead head", "no leader",
        "lead-core line", "a round leadhead jig", "lead dumbbell eyes",
    )
    for where in ("", " and bucktail", " by hand")
]  # fmt: skip
FISH = [
    f"{what} {how}"
    for what in ("It", "The skirt", "This jig", "A good cast")
    for how in (
        "leads the fish to the boat", "will lead you into the weeds", "takes the lead in spring",
        "is made by hand", "was made for muddy water", "is built for the rocks of Lake Superior",
        "never leads the fish", "is made for river fishing in America", "is tied one at a time",
        "made its name in Wisconsin", "has been fished across the USA", "ships across America",
        "is not for use by children", "has no lead time", "was made famous in Minnesota",
        "is made of deer hair taken in Wisconsin", "swims in natural water",
    )
]  # fmt: skip
PLAIN = [
    "No lead time: ships today", "No lead wire underneath", "Lead time two weeks",
    "Follow the leader",
    "Leader-friendly", "Leads them all", "Misleading in a good way", "Leadville, Colorado",
    "Let it lead the fall", "Without leading the fish", "Lead the way", "Leaden skies",
    "Ask us, made to order", "Made for us by a friend", "Call us. Made to order in two weeks",
    "Made in batches of twelve", "Made in a small shop", "Made in winter, shipped in the USA",
    "Built-in rattle. USA postage paid", "Built-in keeper, America's favorite bass below it",
    "Hobbin & Daughter, 14 Cooper's Row, Alder Ferry, WI 54899, USA", "Alder Ferry, Wisconsin",
    "Made by Hobbin & Daughter, Alder Ferry, WI 54899, USA", "Designed in Wisconsin",
    "Assembled in USA", "Printed in USA", "Card printed in the USA", "Ships from the USA",
    "Texas-rigged in Texas", "Tied in Texas craw and pumpkin", "In Tennessee shad",
    "A pattern born in Wisconsin", "Cast in Wisconsin waters", "North American bass love it",
    "Baby bass", "Baby bluegill, chartreuse tip", "Little ones bite first", "Junebug",
    "Ages of rock went into this shape", "Ages 14 and up", "Ages 16+", "Age 18 and over",
    "Natural deer hair", "Natural brown bucktail", "Natural white", "Organic-looking? No: loud",
    "Safe in the box when the point is covered", "Handle with care", "Fish-safe? Not the hook",
    "Approved by the old man at the bait shop", "State record bass, 1955", "Certified by nobody",
    "Hook made in Japan", "Hooks from Japan", "On a Japanese hook made in Japan",
    "Tied in China white and pearl", "Turkey tied in over the hackle", "Tied in at the bend",
    "A jig for the Great Lakes", "Built in three weights", "Made to be lost, like all of them",
    "Created for cold water", "Produced in small numbers", "Made in pairs", "Tied in two colors",
    "New Mexico trout water", "New Jersey stripers", "Poured in our own mold", "Made in one piece",
    "Recycle the card", "Green pumpkin", "Part of the ecosystem", "Earth and copper",
    "Loon Lake special", "Duck hackle", "Eagle claw color", "Bird's nest brown", "Lake green",
    "Contains lead. Wash hands after handling.", "Head: hard lead. Contains lead.",
    "WARNING: Can expose you to lead, a carcinogen and reproductive toxicant.",
    "Sharp hook: handle with care. Not a toy; keep away from children and pets.",
    "Kind words welcome", "Good for rivers in flood", "Does not harm your knots",
]  # fmt: skip
LEFT_ALONE = {
    "qualified by naming what is imported": QUALIFIED,
    "speaks of a part": PARTS,
    "denies it": NOT_SAID,
    "a caution": CAUTIONS,
    "tackle": TACKLE,
    "fish and fishing": FISH,
    "plain words": PLAIN,
}


@pytest.mark.parametrize("kind", LEFT_ALONE)
def test_ordinary_words_of_makers_are_left_alone(jig: Any, kind: str) -> None:
    """Of a lead jig on a Japanese hook, which could least bear a claim."""
    one = jig()
    false = {text: got for text in LEFT_ALONE[kind] if (got := rules(text, one))}
    assert not false, f"{len(false)} false alarms: {list(false.items())[:20]}"


def test_the_tables_are_as_large_as_they_say() -> None:
    assert sum(map(len, FOUND.values())) > 500
    assert sum(map(len, LEFT_ALONE.values())) > 400


def test_the_demo_claims_nothing() -> None:
    catalog = read_catalog(Path(__file__).parents[2] / "demo_catalog")
    for product in catalog.products:
        words = (product.pattern.story, product.pattern.care, product.note, product.pattern.name,
                 product.colour.name, product.colour.note)  # fmt: skip
        for text in filter(None, words):
            assert contradicted(text, product, product.markets, DAY) == ()


@pytest.mark.parametrize("place", ["Japan", "the USA", "China"])
def test_a_hooks_origin_is_held_against_the_catalog(jig: Any, place: str) -> None:
    """19 CFR 134.46; what the catalog leaves open is doubted, not stopped."""
    text = f"Hooks made in {place}"
    wrong = place != "Japan"
    assert ("house-claim-origin" in rules(text, jig(hook_origin="JP"))) is wrong
    open_ = contradicted(text, jig(hook_origin=None), ("US",), DAY)
    assert [one.grade for one in open_ if one.rule == "house-claim-origin"] == [Grade.FIX]


def test_northern_ireland_is_no_part_of_the_other(jig: Any) -> None:
    text = "Hand-tied in Northern Ireland"
    said = {code: rules(text, jig(pattern={"made_in": code})) for code in ("GB", "IE")}
    assert {code: "house-claim-origin" in each for code, each in said.items()} == {
        "GB": False, "IE": True,
    }  # fmt: skip


def test_made_in_usa_of_goods_that_are_is_no_claim_to_bar(jig: Any) -> None:
    for text in US:
        assert rules(text, jig(hook_origin="US")) == set(), text


def sentences(name: str) -> list[tuple[str, str]]:
    """Return each sentence of a list with its heading; a stroke stands for the end of a line."""
    found, heading = [], ""
    for line in (Path(__file__).parent / name).read_text(encoding="utf-8").splitlines():
        if line.startswith("# "):
            heading = line[2:]
        else:
            found.append((heading, line.replace(" / ", "\n")))
    return found


def test_honest_sentences_are_left_alone_in_small_letters_and_capitals(jig: Any) -> None:
    """Shop notes, stories, tips, cautions, parts, colours, places and care; as above."""
    one, said = jig(), sentences("honest.txt")
    every = [text for _, each in said for text in (each, each.upper())]
    false = {text: got for text in every if (got := rules(text, one))}
    assert not false, f"{len(false)} false alarms: {list(false.items())[:20]}"
    assert len(said) > 450


def test_the_wrong_sentences_beside_them_are_found(jig: Any) -> None:
    """Each stands next to an honest one: what makes that good makes nothing else good."""
    one, said = jig(), sentences("wrong.txt")
    missed = [(text, rule) for rule, text in said if rule not in rules(text, one)]
    assert not missed, f"{len(missed)} missed: {missed[:20]}"
    assert len(said) > 120


def test_what_the_rules_say_of_themselves_is_no_claim(jig: Any) -> None:
    """Where goods may be sold is printed in a book, in the rules' own words."""
    one, held = jig(), [rule for _, rule in market_rules.shipped().rules()]
    printed = [rule for rule in held if rule.effect in (Effect.BARRED, Effect.RESTRICTED)]
    texts = [text for rule in printed for text in (rule.about, rule.doubt or "", rule.source)]
    texts = [text for text in texts if "for children" not in text]
    assert not {text: got for text in texts if (got := rules(text, one))}


@pytest.mark.parametrize("name", ["China Doll", "Texas Red", "Jamaica Rum"])
def test_the_products_own_name_is_no_place(jig: Any, name: str) -> None:
    """A colour may be named after a place, and stand after words that would make it an origin."""
    one = jig()
    called = one.model_copy(update={"colour": one.colour.model_copy(update={"name": name})})
    for text in (f"Tied in {name}", f"Made in {name}, 3/8 oz", f"TIED IN\n{name.upper()}"):
        assert rules(text, called) == set(), text
    place = name.split()[0]
    assert rules(f"Made in {place}, {name}", called)
    assert rules(f"Tied in {name}, made in {place}", called)


def test_no_words_are_passed_over_for_what_a_text_does_not_name() -> None:
    """Beside the pattern of all words at once, which looks at every text whole."""
    barred = wording.all_words(rule for _, rule in market_rules.shipped().rules())
    whole = wording._pattern(barred)
    tables = [*FOUND.values(), *LEFT_ALONE.values()]
    texts = [text for table in tables for text in table]
    texts += [text for name in ("honest.txt", "wrong.txt") for _, text in sentences(name)]
    assert len(texts) > 1_500
    wrong = [
        text
        for text in texts
        if wording.stands(barred, text) != (whole.search(wording.folded(text)) is not None)
    ]
    assert not wrong
