"""Catalogs of invented makers whose words are hard to tell from what does not belong in a book."""

from __future__ import annotations

import json
import shutil
from collections.abc import Mapping
from pathlib import Path

from hypothesis import strategies as st

LINE = Path(__file__).parent / "line"

LINES: dict[str, dict[str, str]] = {
    "euros, accents, long names": {
        '"Dock & Daughter"': '"Atelier Éloïse Brûlé & Fils – Mouches et Têtes plombées"',
        '"Nowhere"': '"Saint-Étienne-du-Grès"',
        'state = "WI"\npostcode = "54000"': 'postcode = "13103"',
        'country = "US"': 'country = "FR"',
        '"715-555-0111"': '"+33 4 55 55 01 11"',
        'markets = ["US", "US-CA"]': 'markets = ["FR", "DE"]\ncurrency = "EUR"',
        '"Reed Brown"': '"Brun de roseau très clair, moucheté de crème et d’olive passée"',
        '"Mud"': '"Ähnlich wie Schlamm (à l’œil nu)"',
        '"Stout hook"': '"Hameçon renforcé n° 5"',
        '"Reed Vole"': '"Le Campagnol des roseaux qui s’attarde au bord de l’eau le soir"',
        '"swim jig"': '"jig à nager"',
        'weights = ["1/4 oz", "3/8 oz"]': 'weights = ["7 g", "10.5 g"]',
        'made_in = "US"': 'made_in = "FR"',
        '"The Landing"': '"Pêche & Nature, Größe 3,20 GmbH"',
        "60.00": "1250.00",
        'excise = "included"': """freight = "Franco dès 150,00 € ; au-dessous 9,80 €, par la poste."
payment = "30 jours fin de mois, escompte 2 % à 8 jours."
lead_time = "3 bis 4 Wochen"
returns = "Sous 14 jours, en l’état, 100 % remboursé."
notes = "Lot 3 & 4 : « sur devis » se dit de 500 pièces."
excise = "not included\"""",
    },
    "yen, no dealers, one pattern": {
        'markets = ["US", "US-CA"]': 'markets = ["US", "JP"]\ncurrency = "JPY"',
        'price = "4.95"': 'price = "1480"',
        'price = "9.50"': 'price = "12600"',
        'minimum = "60.00"\n': "",
        "employees = 14": "employees = 2",
        '"Reed Vole"': '"Pattern"',
        'street = "1 Dock Road"\n': "",
        'phone = "715-555-0111"\n': "",
        'email = "bench@dock.example.com"\n': "",
        'links = "https://go.example.com/j"\n': "",
        'gs1_prefix = "9521234"\n': "",
    },
    "names with figures": {
        '"Reed Vole"': '"Size 3.20 Special"',
        '"Tin Otter"': '"2"',
        '"swim jig"': '"No. 7 jig, 35 % off"',
        '"Reed Brown"': '"100% Pure Mud"',
        '"Mud"': '"3"',
        '"flipping jig"': '"Size 3.20 Special 12"',
        '"Stout hook"': '"Hook 9"',
        '"Round head"': '"1/2 head"',
        '"Dealer"': '"Tier 1"',
        '"Distributor"': '"Tier 11"',
        '"The Landing"': '"Shop 4.95"',
        '"Dock & Daughter"': '"Bench No. 3"',
        "Named for what we thought it was,": "Pack of 12 for 3.20, dealer's choice. Page 4,",
        "at_least = 288": "at_least = 1000",
    },
    "names alike, and those of chapters": {
        '"Reed Brown"': '"Mud"',
        '"Dock & Daughter"': '"The Terms & Contents"',
        '"Tin Otter"': '"Reed Vole & all who swim between the reeds & the mud, & in the mud"',
        '"flipping jig"': '"Order form"',
    },
    "names that say what a book says": {
        '"Reed Vole"': '"4/0 oz of Mud"',
        '"Tin Otter"': '"Terms"',
        '"swim jig"': '"3/8 oz, 3.20"',
        '"Reed Brown"': '"USD 1"',
        '"Mud"': '"$3.20, hook 6/0"',
        '"Stout hook"': '"Hook 12"',
        '"The Landing"': '"USD 1"',
        '"Distributor"': '"Terms"',
        '"reed brown"': '"$2.95"',
    },
}

WORDS = (
    "Reed", "Otter", "Slough", "Alder", "Ähre", "Œuf", "of", "the", "&", "$2.95", "USD 1", "€ 5",
    "4/0 oz", "3/8 oz", "7 g", "Hook 12", "hook 4/0", "size 5/0", "No. 7", "#5", "100%", "35 %",
    "3.20", "$3.20", "12", "$", "Terms", "Contents", "Color index", "Order form", "Cover", "Price",
    "GTIN", "Pattern", "Dealer", "Margin", "Case of 12", "pack of 3", "2 packs", "on request",
    "page 4", "may be sold", "notice", "lot 5", "9521234001010", "54000", "1 Dock Road", "WI",
    "– continued",
)  # fmt: skip
"""Of these the names of any line are made: a few plain words, and all that a book says itself."""

_NAMED = (
    '"Dock & Daughter"', '"Reed Brown"', '"Mud"', '"Reed Vole"', '"Tin Otter"', '"swim jig"',
    '"flipping jig"', '"Stout hook"', '"Round head"', '"Light head"', '"Dealer"', '"Distributor"',
    'shade = "mud"', '"Hard lead"', '"Bismuth-tin"',
    '"Named for what we thought it was, in the half light, before it swam."',
)  # fmt: skip
_OTHERWISE = {
    'price = "4.95"': ('price = "2.95"', 'price = "1234.50"', 'price = "12"'),
    'price = "9.50"\n': ("", 'price = "3.00"\n'),
    "case = 12\n": ("", "case = 3\n"),
    "pack = 2": ("pack = 12", "pack = 144"),
    'excise = "included"': ('excise = "not included"\nfreight = "$3.20, from $2.95 on."',),
    "employees = 14": ("employees = 2",),
    'links = "https://go.example.com/j"\n': ("",),
    'phone = "715-555-0111"\n': ("",),
    'markets = ["US", "US-CA"]': ('markets = ["US", "CA"]', 'markets = ["US"]\ncurrency = "EUR"'),
}


def _named(old: str) -> st.SearchStrategy[str]:
    key = old.partition('"')[0]
    return _NAMES.map(lambda name: f"{key}{json.dumps(name, ensure_ascii=False)}")


_NAMES = st.lists(st.sampled_from(WORDS), min_size=1, max_size=5).map(" ".join)
ANY_LINE = st.builds(
    lambda names, rest: names | rest,
    st.fixed_dictionaries({}, optional={old: _named(old) for old in _NAMED}),
    st.fixed_dictionaries(
        {}, optional={old: st.sampled_from(new) for old, new in _OTHERWISE.items()}
    ),
)
"""What is different in the catalog of any honest maker: names, prices, counts, places."""


def changed(words: Mapping[str, str], root: Path) -> Path:
    """Write the short line with other words, and return its folder."""
    folder = shutil.copytree(LINE, root / "line")
    text = (folder / "catalog.toml").read_text("utf-8")
    for old, new in words.items():
        assert old in text, old
        text = text.replace(old, new)
    (folder / "catalog.toml").write_text(text, "utf-8")
    return folder


def line(name: str, root: Path) -> Path:
    """Write the catalog of one invented maker, and return its folder."""
    folder = changed(LINES[name], root)
    text = (folder / "catalog.toml").read_text("utf-8")
    if "no dealers" in name:
        begin, end = text.index("[tiers."), text.index("[terms]")
        text = text[:begin] + text[end:]
    (folder / "catalog.toml").write_text(text, "utf-8")
    return folder
