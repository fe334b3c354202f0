"""Any product on any shipped layout of any size comes out whole, or is refused with its place."""

from __future__ import annotations

import datetime as dt
import unicodedata
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labeler.catalog.model import Flake, Layer, Product
from labeler.disclosures.needed import card_panel, label_panel, needed
from labeler.findings import LabelerError
from labeler.layout.alike import left_out
from labeler.layout.compose import Composer, Job
from labeler.layout.index import LayoutSpec, read_index
from labeler.marks import Code, Glyphs, Group, Mark, Piece
from labeler.units import Length, Weight

MENU = read_index()
LATIN = "abcdefghijklmnopqrstuvwxyzABCDEFJKLQTVWÄÖÜÉÈÅØŁŠÇÑßéèåøłšçñ0123456789.,-/&'()"
CAPITALS = "ABCDEFGHIJKLMNOPQRSTUVWXYZÄÉÅ"
GREEK, CYRILLIC = "αβγδεζηθκλμνξοπρστυφχψωΑΩ", "абвгдежзийклмнопрстуфхцчшщыэюя"

words = st.sampled_from([LATIN, LATIN, LATIN, CAPITALS, GREEK, CYRILLIC]).flatmap(
    lambda letters: st.lists(st.text(letters, min_size=1, max_size=12), min_size=1, max_size=12)
)
names = words.map(lambda kept: " ".join(kept)[:80].strip()) | st.text(
    LATIN, min_size=1, max_size=80
)
weights = st.sampled_from(
    ["1/100 oz", "1/64 oz", "1/32 oz", "3/32 oz", "3/8 oz", "7/16 oz", "1 oz", "1 1/2 oz",
     "10 15/16 oz", "0.37 oz", "0.5 g", "10.6 g", "3 g", "1000 g"]
).map(Weight.parse)  # fmt: skip
prices = st.sampled_from([Decimal("0"), Decimal("4.95"), Decimal("999999.5")])
inks = st.integers(0, 0xFFFFFF).map(lambda n: f"#{n:06x}")
layers = st.lists(
    st.builds(
        Layer,
        material=st.just("silicone"),
        shade=st.text(LATIN, min_size=1, max_size=20).map(lambda text: text.strip() or "x"),
        ink=inks,
        tip=st.none() | inks,
        flake=st.none() | st.builds(Flake, ink=inks),
        strands=st.sampled_from([1, 2, 9, 40, 2000]),
        amount=st.none() | st.just("a matchstick of it"),
        seat=st.sampled_from(["around", "back", "sides", "belly", "tail"]),
    ),
    max_size=12,
).map(tuple)


@st.composite
def products(draw: st.DrawFn, base: Product) -> Product:
    """Draw a product like no other."""
    pattern = base.pattern.model_copy(
        update={
            "name": draw(names),
            "kind": draw(st.just(base.pattern.kind) | words.map(lambda kept: " ".join(kept)[:30])),
            "pack": draw(st.sampled_from([1, 2, 12, 1000])),
            "story": draw(st.none() | st.just(base.pattern.story) | st.just("It swims. " * 60)),
            "care": draw(st.none() | st.just("Rinse in clear water.")),
        }
    )
    colour = base.colour.model_copy(update={"name": draw(names), "layers": draw(layers)})
    return base.model_copy(
        update={
            "pattern": pattern,
            "colour": colour,
            "weight": draw(weights),
            "hook_size": draw(st.sampled_from(["4/0", "4/0", None])),
            "gtin": draw(st.none() | st.just("09521234001140")),
            "price": draw(st.none() | prices),
            "markets": draw(st.sampled_from([base.markets, ("US",), ("GB",), ("DE",), ("US-CA",)])),
        }
    )


@st.composite
def sizes(draw: st.DrawFn, dish: LayoutSpec) -> tuple[float, float]:
    """Draw a size from the least to the most that a layout is made for."""
    ends = zip(dish.least, dish.most, strict=True)
    width, height = (
        draw(st.sampled_from([low, high]) | st.floats(low, high)) for low, high in ends
    )
    return width, height


def squeezed(text: str) -> str:
    """Return a text without its spaces, points, and ways to write a fraction or a quote."""
    curly = str.maketrans("‘’“”′", "''\"\"'")
    plain = unicodedata.normalize("NFKC", text.replace("″", '"').translate(curly))
    return "".join(plain.replace("⁄", "/").replace("·", "").split())


def told(marks: tuple[Mark, ...]) -> tuple[str, list[str]]:
    """Return all the letters of some marks in their order, and what their codes say."""
    letters, codes = "", []
    for mark in marks:
        if isinstance(mark, Glyphs):
            letters += mark.text
        elif isinstance(mark, Code):
            codes.append(mark.payload)
        elif isinstance(mark, Group) and not mark.key:
            inner, more = told(mark.marks)
            letters, codes = letters + inner, codes + more
    return letters, codes


@pytest.mark.daily("bag-strip", "header-card")
@pytest.mark.parametrize("layout", sorted(MENU))
@settings(
    max_examples=settings().max_examples // 2,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(data=st.data())
def test_any_product_is_laid_out_whole_or_refused_with_its_place(
    product: Product,
    watch: Any,
    keeps_its_promises: Callable[[Piece], None],
    layout: str,
    data: st.DataObject,
) -> None:
    watch.forget()
    dish = MENU[layout]
    made, size = data.draw(products(product)), data.draw(sizes(dish))
    width, height = Length(size[0]), Length(size[1])
    on_card = dish.use == "cards"
    panel = card_panel(width, height) if on_card else label_panel(width, height, made.bag)
    said = needed(made, made.markets, dt.date(2027, 3, 1), panel=panel)
    lot = data.draw(st.sampled_from(["", "26329001", "ABCDEFGH26329001"]))
    link = data.draw(st.sampled_from(["", "https://go.example.com/01/09521234001140/10/26329001"]))
    composer = Composer(
        dpi=data.draw(st.sampled_from([None, 203, 300, 600])),
        ink=data.draw(st.sampled_from(["colour", "black"])),
    )
    try:
        job = Job(made, layout, size, said, lot, link)
        composed = composer.compose_with_pictures(job)
    except LabelerError as error:
        for found in error.findings:
            assert found.message.startswith(("on a ", "on an ")), found
            assert found.place.piece == made.sku, found
        return
    piece = composed.piece
    keeps_its_promises(piece)
    letters, codes = told(tuple(mark for face in piece.faces for mark in face.marks))
    printed = squeezed(letters)
    lacks = {each.message for each in left_out([(job, composed)]) if each.rule == "fact-left-out"}
    assert layout == "bag-mini" or not lacks
    weight = made.weight.oz_text if made.weight.unit == "oz" else made.weight.g_text
    for text in (made.pattern.name, made.colour.name, weight, lot):
        assert squeezed(text) in printed
    assert (squeezed(made.hook_size or "") in printed) or any("hook" in each for each in lacks)
    for statement in said:
        ways = [form for form in (statement.full, statement.short) if form]
        if statement.duty != "optional":
            assert any(squeezed(form.text) in printed for form in ways), statement.text
    assert not link or link in codes or any("QR code" in each for each in lacks)
