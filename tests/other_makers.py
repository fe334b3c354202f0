"""Lines of three invented makers: what labels must hold beside the demo's.

One pours no lead and sells abroad, one has long names and six shades to a color, one has a single
product. Their makers, towns and shops are invented; their GTINs begin with 952.
"""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from pathlib import Path

_DEMO = Path(__file__).parents[1] / "demo_catalog"
PHOTO = "reedmace-delft-craw.jpg"

_BENCH = """
[materials.lead]
name = "Lead"
kind = "alloy"
composition = { lead = "96 %", antimony = "4 %" }
origin = "US"

[materials.tungsten]
name = "Tungsten"
kind = "alloy"
composition = { tungsten = "95 %", nickel = "3 %", iron = "2 %" }
density = "17.5 g/cm3"
origin = "CN"

[materials.silicone]
name = "Silicone skirt tab"
kind = "silicone"
composition = { polydimethylsiloxane = "85 %", silica = "15 %" }
origin = "TW"
strands_per_tab = 22

[materials.rubber]
name = "Living rubber"
kind = "living rubber"
composition = { "natural rubber" = "95 %", "zinc oxide" = "5 %" }
origin = "MY"
strands_per_tab = 26

[materials.hair]
name = "Bucktail"
kind = "hair"
composition = { "deer hair" = "100 %" }
origin = "CA"

[materials.brush]
name = "Nylon guard fiber"
kind = "guard fibre"
composition = { "polyamide 6" = "100 %" }
origin = "US"

[materials.hook-steel]
name = "Hook steel"
kind = "steel"
composition = { iron = "98 %", carbon = "0.8 %" }
origin = "JP"

[guards.brush]
name = "Brush guard"
strands = 30
material = "brush"

[hooks.jig]
name = "Flat-eye jig hook"
bend = "round"
wire = "heavy"
finish = "black nickel"
origin = "JP"
material = "hook-steel"

[bags.clear]
name = "Clear bag 3 x 5"
width = "3 in"
height = "5 in"

[bags.paper]
name = "Paper bag 3 x 5"
width = "3 in"
height = "5 in"
clear = false
"""


def _maker(name: str, markets: Sequence[str], **more: str | int) -> str:
    where: dict[str, str | int] = {
        "street": "9 Ropewalk", "city": "Low Harbor", "state": "ME", "postcode": "04999",
        "site": "www.example.com", "links": "https://go.example.com", "phone": "207-555-0119",
        "employees": 1,
    }  # fmt: skip
    where |= more
    said = "\n".join(f"{key} = {_quoted(value)}" for key, value in where.items())
    return f"""
[maker]
name = {_quoted(name)}
{said}

[sale]
markets = [{", ".join(map(_quoted, markets))}]
{_BENCH}"""


def _quoted(value: str | int) -> str:
    return str(value) if isinstance(value, int) else '"' + value.replace('"', '\\"') + '"'


def _colour(key: str, code: str, name: str, shades: Sequence[tuple[str, str, str]]) -> str:
    """Return a color; of each layer its material, shade and ink, in tying order."""
    seats = ("around", "sides", "belly", "back", "sides", "belly")
    layers = ",\n".join(
        f'  {{ material = "{material}", shade = {_quoted(shade)}, ink = "{ink}", '
        f'strands = {22 - 3 * n}, seat = "{seats[n]}" }}'
        for n, (material, shade, ink) in enumerate(shades)
    )
    return f"""
[colours.{key}]
code = "{code}"
name = {_quoted(name)}
head_ink = "{shades[0][2]}"
head_paint = {_quoted(shades[0][1])}
layers = [
{layers}
]
"""


_DELFT = """
[colours.delft-craw]
code = "DLF"
name = "Delft Craw"
head_ink = "#4b3422"
head_paint = "brown"
thread_ink = "#2f2117"
eye_ink = "#d46f25"
layers = [
  { material = "silicone", shade = "peat brown", ink = "#5a3d25", strands = 22 },
  { material = "silicone", shade = "delft blue", ink = "#2f5488", strands = 14, seat = "sides" },
  { material = "silicone", shade = "orange", ink = "#d2691e", strands = 10, seat = "belly" },
]
"""
"""The color of the photo."""

_LEAD_FREE = (
    _maker("Wrack & Ember", ("US", "US-ME", "US-NH", "CA", "GB", "DE", "DK"), gs1_prefix="9525678")
    + _DELFT
    + _colour(
        "wet-slate", "WSL", "Wet Slate",
        (("silicone", "slate, silver flake", "#56606a"), ("rubber", "bone", "#dcd3bd")),
    )
    + """
[heads.swim]
name = "Tungsten swim head"
style = "swim"
alloy = "tungsten"
marked_for = "tungsten"
eyes = true

[patterns.gannet]
code = "GAN"
name = "Gannet's Plunge"
kind = "swim jig"
head = "swim"
hook = "jig"
guard = "brush"
weights = ["3/8 oz", "10.5 g"]
hook_sizes = ["4/0"]
colours = ["delft-craw", "wet-slate"]
bag = "clear"
price = "7.95"
length = "3 3/4 in"
made_in = "CA"
made_by = "made for"
story = "It goes down like a bird that has seen something, and comes up slowly."
care = "Rinse and dry."

[packs.pair]
code = "PAIR"
name = "A Pair of Gannets"
of = { GAN-38-40-DLF = 1, GAN-38-40-WSL = 1 }
price = "14.95"
"""
)  # fmt: skip

_SIX = (
    ("silicone", "green pumpkin, black fleck", "#55532d"),
    ("silicone", "watermelon red", "#8c3a2b"), ("silicone", "cinnamon purple", "#5c3d6e"),
    ("rubber", "brown", "#6a4526"), ("silicone", "orange, gold flake", "#c96a24"),
    ("silicone", "chartreuse pearl", "#c3cb45"),
)  # fmt: skip
"""Six shades, light and dark."""

_LONG_COLOURS = {
    "MAR": "Marsh", "CYP": "Old Cypress Swamp With Copper Fleck",
    "BLU": "Bluegill Over Weeds In Late August", "CRW": "Crawfish Molting In Early Aprilish",
    "GHO": "Ghost Shad On Clear Gravel Bottoms", "NGT": "The Night Heron's Own Dark Feather",
}  # fmt: skip

_LONG = (
    _maker(
        "Halloran's Backwater Jig & Tackle Co.", ("US", "US-CA", "US-MN"), city="Saint Aldhelm",
        street="1208 Old County Road South", state="MN", postcode="56799", phone="218-555-0150",
    )
    + "".join(
        _colour(code.lower(), code, name, (*_SIX[n:], *_SIX[:n]))
        for n, (code, name) in enumerate(_LONG_COLOURS.items())
    )
    + f'''
[heads.football]
name = "Football head"
style = "football"
alloy = "lead"

[patterns.long]
code = "LNG"
name = "Thirty-Four Letters Of A Long Name"
kind = "football jig"
head = "football"
hook = "jig"
guard = "brush"
weights = ["1/2 oz", "1 oz"]
hook_for = {{ "1/2 oz" = "4/0", "1 oz" = "5/0" }}
colours = [{", ".join(f'"{code.lower()}"' for code in _LONG_COLOURS)}]
bag = "clear"
price = "5.50"
length = "3 1/2 in"
made_in = "US"
story = """
Nobody who fishes it says the whole name. It drags well, stands up on rock, and has more colors \\
in its skirt than the box it comes in."""
care = "Dry it before it goes back in the box."

[packs.both]
code = "BOTH-WAYS"
name = "Two Long Names Together In One Bag"
of = {{ LNG-12-40-MAR = 1, LNG-1OZ-50-CYP = 1 }}
price = "10.50"
'''
)  # fmt: skip

_ONE = (
    _maker("O'Dell", ("US",), city="Tarrow", state="WI", postcode="54899", phone="715-555-0160")
    + _colour("creme", "CRB", "Crème brûlée ‘très fluffy’", (("hair", "natural", "#d9ccb0"),))
    + """
[heads.ball]
name = "Ball head"
style = "round"
alloy = "lead"

[patterns.only]
code = "ONE"
name = "L’Éphémère d'été"
kind = "hair jig"
head = "ball"
hook = "jig"
weights = ["1/8 oz"]
hook_sizes = ["2/0"]
colours = ["creme"]
skirt = "hair"
bag = "paper"
pack = 3
price = "4.50"
made_in = "US"
"""
)

OTHERS = {"lead-free": _LEAD_FREE, "long": _LONG, "one": _ONE}

SINGLES = {"lead-free": ("GAN-*",), "long": ("LNG-12-*",), "one": ("ONE-*",)}
"""Of each line products that are no assorted pack."""


def write_line(name: str, folder: Path) -> Path:
    """Write the catalog of one of these makers, and return its folder."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "catalog.toml").write_text(OTHERS[name], "utf-8")
    if name == "lead-free":
        (folder / "photos").mkdir(exist_ok=True)
        shutil.copy(_DEMO / "photos" / PHOTO, folder / "photos")
        rows = f"SKU,GTIN,Photo\nGAN-38-40-DLF,9525678000011,{PHOTO}\n"
        (folder / "products.csv").write_text(rows, "utf-8")
    return folder
