"""Catalogs of invented makers whose words are hard to tell from what does not belong in a book."""

from __future__ import annotations

import shutil
from pathlib import Path

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
}


def line(name: str, root: Path) -> Path:
    """Write the catalog of one invented maker, and return its folder."""
    folder = shutil.copytree(LINE, root / "line")
    text = (folder / "catalog.toml").read_text("utf-8")
    for old, new in LINES[name].items():
        assert old in text, old
        text = text.replace(old, new)
    if "no dealers" in name:
        begin, end = text.index("[tiers."), text.index("[terms]")
        text = text[:begin] + text[end:]
    (folder / "catalog.toml").write_text(text, "utf-8")
    return folder
