"""Which words state a weight, price, lot, count, hook or number of the piece, and which do not.

The honest lines are such as makers print on their cards beside what a label must say. Common
practice, no published source.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from labeler.catalog.model import Product
from labeler.catalog.read import read_catalog
from labeler.checker.rules import stated

LOT = "2632900275"


@pytest.fixture(scope="module")
def product() -> Product:
    """A jig of 3/8 oz on a 4/0 hook."""
    (found,) = [
        each for each in read_catalog(Path("demo_catalog")).products if each.sku == "RM-38-40-SBR"
    ]
    return found


def misstated(text: str, product: Product, pack: int = 1) -> Iterator[str]:
    """Yield the kinds of facts that a line states otherwise than the catalog does."""
    if any(not (h.aside or stated.is_weight(h, product)) for h in stated.weights(text)):
        yield "weight"
    money = stated.prices(text, product.currency)
    if any(not (h.aside or stated.is_price(h, product.price)) for h in money):
        yield "price"
    if any(not (h.aside or h.value == pack) for h in stated.counts(text, "jig")):
        yield "count"
    if any(h.unit != LOT for h in stated.lots(text, LOT)):
        yield "lot"
    if any(h.unit != product.gtin for h in stated.article_numbers(text, LOT)):
        yield "number"
    if any(not (h.aside or h.said == product.hook_size) for h in stated.hook_sizes(text)):
        yield "hook"


HONEST = """
Fish it slow, near the bottom! | Best in 6 to 12 ft of water | Fish it 3 ft off the bottom
In 2-6 feet, around docks | Works from 48 F to 75 F | Water under 50 °F? Slow down
55°C is too hot for glue | pH 7 and clear water | 20 C is warm | Use 10 lb test line
8 lb mono or 15 lb braid | 12-20 lb fluorocarbon | Pairs with 17 lb fluoro | On 4 to 8 lb line
6 lb line is plenty | 20 lb braid, 15 lb leader | Rated 10-25 lb | 65 lb braid for the slop
Leader 12 lb | 4 kg line | Rod: 7 ft medium heavy | A 7' 2-piece rod | 6'6" M/F, 2-piece
Two-piece rod friendly | One-piece blanks | 7'3" MH, fast | Rods rated 1/4 to 5/8 oz
For rods rated 3/16-5/8 oz | Lure rating 1/4-3/4 oz | Lures up to 1 oz | Rods of 1/8 to 1/2 oz
Also in 1/4, 1/2 and 5/8 oz | Comes in 1/8 oz, 1/4 oz & 1/2 oz | 1/4 oz, 1/2 oz
Available in 1/4 and 1/2 oz | also 1/2 oz | Add a 1/8 oz nail weight
Rig it with a 1/4 oz bullet sinker | 1/16 oz split shot | Lighter than 1/2 oz? Ask us
For a 5 lb bass | Caught a 6 lb 4 oz smallmouth bass | Fish over 5 lb, let go
20 lb pike love it | My best: 9 pounds | A ten pound walleye | Lake record 11 lb 2 oz walleye
trophy trout, 8 pounds | 2 pounds | Every pound counts | not an ounce of fat
Bass under 2 lb, let go | One fish per 5 lb of ice | 3 kg trout, 4 kg line | Two kilograms
drag 8 lb | 5 pounds of drag | C | Size C | Grade C | Hook C | Plan B | 4 C | Type 3 C
Trailer size 3 C | cut 3 | 2 ct thread | PO Box 41 | P.O. Box 41, Alder Ferry | Box 12
Card 2 of 5 | Card 3 | Case 3 | set 2 | Set 1 of the river set | Bag 3 x 5 in | Est. 2009
est. 1998 | Since 1998 | since 2009 | Tied by hand since 1974 | 1998-2026 | Est 2015 in a garage
MMXXVI | No. 7 | Nr. 12 | No 3 in the river line | Pattern no. 14 | Jig no. 9 | #7 | Plate 4
Fig. 2 | Vol. 3 | Page 2 | Chapter 12 jigs | 24/7 | 24/7/365 | Open 9-5 | Open Mon-Sat, 8 to 4
Fri 5 pm | 7 days a week | 9:30 am | 6 a.m. bite | dawn 5:45 | 1st place | 2nd to none | 3rd cast
First cast fish | Top 10 | 1st choice of the 3rd shift | 100% | 110 % effort | 50% longer strands
1/4 turn | a 1/4 turn of the handle | 1/2 turn | half a turn | 3/4 of the way | Halfway
2/3 down | 1/3 rod, 2/3 reel | one third of the day | 3 x 5 in | 3/4 in head | 2 1/2 in long
4" overall | 10 cm | 1 1/4 inch trailer | 3-inch craw trailer | Trim to 1/4 in | 2 in
22 strands | 44 strands, 3 layers | 45 fibre guard | 60 degree eye | 30° eye | 90 deg bend
28 gauge wire | 210 denier | Two jigs in one | No two jigs alike | No two jigs are the same
Try 2 jigs at once | Carry three jigs: light, mid, heavy | Every jig, one at a time
One jig at a time | one lure, three actions | One jig, many ways | Tie on two jigs
First 100 jigs of the year | Over 5,000 jigs tied | We tie 24 jigs a day | 12 jigs a night
About 1,000 lures a year | 1 jig in 10 is weighed | three pieces of advice | two lures ago
A dozen trips | dozens of colors | By the dozen at the bench | half a dozen ways to fish it
a dozen colours | Twelve ways | Pack two rods and a thermos | Pack light
Pack it in, pack it out | Unpack, rinse, dry | Box it dry | Card made of 80 % waste
In a set of 12 | one of a set of 6 | from a box of 50 | part of a set of 4 colors
Collect the set of 8 colors | box of 24 crayons | Small batch. 100 % by hand
Small-batch 2-color skirts | small batch 24 at a time | In a batch 3 days old
Each batch 12 jigs at a time | Tied in small batches | A batch 20 minutes
We fish a lot. 7 days a week | a lot 2 like | Parking lot 3 | That means a lot 2 us
Every batch 100% weighed | 715-555-0114 | (715) 555-0114 | 715.555.0114 | +1 715 555 0114
1-715-555-0114 | +44 20 7946 0958 | 555 0123 | 800-555-0199 ext. 12 | 54899 | 54899-1234
WI 54899 | Alder Ferry, WI 54899-1234 | K1A 0B1 | SW1A 1AA | 14 Cooper's Row | Suite 12 | Unit 4
Apt 3B | Ste. 200 | Rural Route 2, Box 41 | RR 2 Box 9 | Highway 13 | Hwy 2 East | Mile 14
Pier 3 | Dock 12 | Bay 6 | Door 2 | Booth 117 | Table 9, hall C | @hobbin.jigs | @hobbin_jigs
#reedmace | #jiglife 365 | hobbin.example.com | hobbin.example.com/3 | fb: hobbin1998
IG @jigs24 | 2026 | Season 2026 | Spring '26 | 11/02/26 | 2026-11-25 | Nov 25, 2026 | 25.11.2026
May 2 to June 5 | 4th of July | Day 1 | Fits 3/0 to 5/0 trailers | Also on 3/0 and 5/0 hooks
2/0 trailer hook | Stinger 1/0 | Also in 3/0, 5/0 | 1/0-5/0 | 3/0 or larger | Hook-up ratio 9/10
Score 4-0 | 3-0 on Sunday | 2 for 2 | 4x4 | 2x strong | 3X strong | 4.0 | v2.0 | M3 | K9 | R2
2nd edition | Orders over $50 ship free | Save $2 on three | $1 of each sale goes to the river
$1 of every jig is donated | Shipping $4 | 3 for $15 | Gives $1 back to the river
a $5 license fee | donates $2 | $10 off your next order | Spend over $40 and shipping is ours
Worth a $5 bet? No: a $5 fine | Bucktail | buck tails | 8-point buck | doe, a deer | Penny wise
Free | dollar spot | a buck and a doe | Cash or card | Recycled card, 80 % | 300 gsm | 16 pt card
100 lb cover stock | 80 lb paper | 12 pt | 4/4 print | Form 3 rev. 2 | Rev 12 | V. 4 | 1 of 200
Nr 14/200 | Edition 3 of 12 | 4 of 9 | 2 of 3 | 1 in 3 | Step 1 | Step 2: tie
1. Rinse 2. Dry 3. Oil | 3 steps | Cast, count to 5, twitch | Count 10, then lift | count down 3
One, two, pause | 1-2-pause | Wait 3 seconds | 5 s pause | 2 cranks | 4 twitches
Lat 45.2, long -91.1 | 45°N | 91.1 W | Zone 3 | Pool 4 | Lock 7 | Mile 812.5 | Buoy 22
Elev. 640 ft | 12 mi up river | 3/8 oz | 3/8 oz (10.6 g) | three eighths of an ounce
Weight 3/8 oz | 3/8-oz | Net wt 3/8 oz | 10.6 g | Head 3/8 oz | 0.375 oz | 4/0 | Hook 4/0
Hook size 4/0 | 1 jig | One jig | Pack 1 | Qty 1 | Contents: 1 | pack of one | 1 pc | 1-pack
Lot 2632900275 | Batch 2632900275 | Lot 263 290 0275 | Lot: 2632900275 | lot no. 2632900275
LOT #2632900275
""".replace("\n", " | ").split(" | ")
HONEST = [line for line in HONEST if line.strip()]
PLAIN = HONEST[HONEST.index("3/8 oz") :]
"""Those that state what this product is, and are true of it alone."""

WRONG = [
    (line.strip(), kind)
    for kind, lines in {
        "weight":
            "1/2 oz | half ounce | Weight 1/2 oz | Net wt 1/4 oz | 3/4-oz. | 12 grams | "
            "Head 1/4 oz | a quarter pound | 3/8 lb | net 2 lb | weighs 3 lb | 0.5 oz | "
            "one and a half ounces | 38 oz | 1/2 oz jig | 1/2 oz bass jig | Hook 4/0, 1/2 oz | "
            "Pack 1, 1/4 oz | 3/8 g | 106 g | 7/16 OZ | Fish it on light line\n1/2 oz | "
            "1/2 oz\nBass jig | Swim jig, 1/4 oz | 1/2 oz (14.1 g) | 1/2 oz / 14 g",
        "price":
            "$3.95 | 3.95 USD | USD 3.95 | 395¢ | 95c | four dollars | 95 cents | €4 | CA$6.49 | "
            "only $2 | Price $4.00 | $4 each | Was $7.00 | now $3 | Price: $3.20 | EUR 4 | "
            "4 euros | $54.9",
        "count":
            "Pack of six | 3-pack | two dozen | Contents: 5 | 4 pcs | Qty 25 | 12 jigs | "
            "Contains 12 jigs | PACK OF\n12 | 12\nJIGS | Contains 12\njigs | box of 6 | "
            "card of 2 | set of 4 jigs | 6 per bag | half dozen | 12 JIGS per pack | Pack 12 | "
            "Pack: 12 | six jigs | 6 ct | 24 count | bag of 12 | 2 jigs | One dozen | "
            "Quantity: 4 | 3 lures | net 5 pieces | case of 144 | 6 PCS | "
            "Pack of 12 hand-tied jigs | a dozen jigs",
        "lot":
            "Lot 263290021 | Batch 263290021 | Serial A-1001 | S/N 4471 | Lot no. 7 | "
            "Batch # 12 | LOT 2632900276 | Lot A1\nBatch B2 | lot: 99 | Lot 4 of 9 | Batch no 5 | "
            "Lot 263 290 0276 | Lot code 12 | lot number 3",
        "number":
            "9521234000999 | 9 521234 000999 | (01) 09521234000999 | UPC 952123400099 | "
            "0 95212 34000 9",
        "hook":
            "Hook 5/0 | 3/0 | Hook: 2/0 | Size 5/0 | hook size 6/0 | 5/0 flat-eye hook | "
            "3/0 black nickel",
    }.items()
    for line in lines.split(" | ")
]  # fmt: skip


@pytest.mark.parametrize("pack", [1, 12])
def test_no_honest_line_states_another_fact(product: Product, pack: int) -> None:
    assert len(HONEST) > 300
    own = {"1 jig", "One jig", "Pack 1", "Qty 1", "Contents: 1", "pack of one", "1 pc", "1-pack"}
    false = {
        line: said
        for line in HONEST
        if not (pack == 12 and line in own) and (said := list(misstated(line, product, pack)))
    }
    assert not false


@pytest.mark.parametrize(("line", "kind"), WRONG)
def test_a_line_that_states_another_fact_is_found(line: str, kind: str, product: Product) -> None:
    assert kind in misstated(line, product)


@pytest.mark.parametrize(("line", "kind"), WRONG)
def test_it_is_found_beside_honest_lines_too(line: str, kind: str, product: Product) -> None:
    around = f"Since 1998\n{line}\nFish it slow in 6 ft of water"
    assert kind in misstated(around, product)


def test_it_is_the_products_own_count_that_is_held_against(product: Product) -> None:
    assert not list(misstated("PACK OF\n12", product, 12))
    assert not list(misstated("3 ct", product, 3))
    assert list(misstated("3 ct", product)) == ["count"]
    assert list(misstated("1 jig", product, 12)) == ["count"]
    heavy = product.model_copy(update={"price": None})
    assert list(misstated("$5.00", heavy)) == ["price"]


@pytest.mark.parametrize(
    ("text", "agrees"),
    [
        ("4.59", False), ("was 6.50, now less", False), ("4,59", False), ("pay 12.00.", False),
        ("4.95", True),
    ],
)  # fmt: skip
def test_a_number_written_as_a_price_is_one_without_its_sign(
    text: str, agrees: bool, product: Product
) -> None:
    assert stated.facts_in(text, product, "jig") == (["a price"], agrees)


@pytest.mark.parametrize(
    "text", ["2.25 in", '1.25" blade', "0.75 in. long", "12.06.29", "4.5", "1.125", "0.50 mm"]
)
def test_lengths_and_longer_numbers_are_no_prices(text: str, product: Product) -> None:
    assert "a price" not in stated.facts_in(text, product, "jig")[0]
