"""The line of the book's benchmark: patterns of six weights, colours of their own, a photo."""

from __future__ import annotations

import sys
from pathlib import Path

WEIGHTS = ("1/4 oz", "3/8 oz", "1/2 oz", "5/8 oz", "3/4 oz", "1 oz")
STORY = "It swims level through standing reeds and rolls a little when you pause. " * 5
NAMES = (
    "Alder", "Bistre", "Copal", "Dusk", "Ember", "Fallow", "Grebe", "Hazel", "Inky", "Jasper",
    "Kelp", "Lichen", "Madder", "Nettle", "Ochre", "Peat", "Quartz", "Rush", "Sorrel", "Tansy",
)  # fmt: skip

HEAD = """
[maker]
name = "Dock & Daughter"
city = "Nowhere"
postcode = "54000"
links = "https://go.example.com"
[sale]
markets = ["US"]
[materials.lead]
name = "Hard lead"
kind = "alloy"
composition = { lead = "97 %", antimony = "3 %" }
[materials.silicone]
name = "Silicone"
kind = "silicone"
[heads.swim]
name = "Swim head"
style = "swim"
alloy = "lead"
[hooks.stout]
name = "Stout hook"
[guards.brush]
name = "Brush"
[tiers.dealer]
name = "Dealer"
off = "40 %"
"""


def _named(number: int) -> str:
    """Return a name that no other number has: after the last, names of two."""
    more, at = divmod(number, len(NAMES))
    return f"{NAMES[at]} {NAMES[more - 1]}" if more else NAMES[at]


def write_line(folder: Path, patterns: int, colours: int) -> Path:
    """Write a line of so many patterns, each in colours of its own, with a photo."""
    import numpy as np
    from PIL import Image

    parts = [HEAD]
    (folder / "photos").mkdir(parents=True)
    for number in range(patterns):
        names = [f"c{number}x{shade}" for shade in range(colours)]
        for shade, name in enumerate(names):
            ink = (number * 104729 + shade * 7919 + 0x304050) % 0x1000000
            parts.append(
                f'[colours.{name}]\ncode = "{number}X{shade}"\n'
                f'name = "{_named(number)} {NAMES[shade]}"\n'
                f'layers = [{{ material = "silicone", shade = "one", ink = "#{ink:06x}", strands = '
                f'22 }}, {{ material = "silicone", shade = "two", ink = "#3a5a2c", strands = 14, '
                f'seat = "belly" }}]\n'
            )
        shown = ", ".join(f'"{name}"' for name in names)
        weights = ", ".join(f'"{weight}"' for weight in WEIGHTS)
        parts.append(
            f'[patterns.p{number}]\ncode = "P{number}"\nname = "{_named(number)} Runner"\n'
            f'kind = "swim jig"\nhead = "swim"\nhook = "stout"\nguard = "brush"\n'
            f'hook_sizes = ["4/0"]\n'
            f'weights = [{weights}]\ncolours = [{shown}]\nprice = "4.95"\nphoto = "p{number}.jpg"\n'
            f'story = "{STORY}"\n'
        )
        across, down = np.meshgrid(np.arange(1200), np.arange(800))
        waves = np.stack([across * (number + 2) % 256, down % 256, (across + down) % 256], axis=-1)
        Image.fromarray(waves.astype("uint8")).save(folder / "photos" / f"p{number}.jpg")
    (folder / "catalog.toml").write_text("\n".join(parts), encoding="utf-8")
    return folder


if __name__ == "__main__":
    write_line(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
