"""What a jig is made of and sold in: material, head, hook, guard, colour, tie, bag.

Frozen records, no behaviour beyond arithmetic: one entry of the catalog file each.
"""

from __future__ import annotations

from fractions import Fraction
from functools import cached_property
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from labeler.catalog.kinds import (
    COUNTED,
    CodePart,
    Country,
    Density,
    ExactWeight,
    Ink,
    Line,
    PaperLength,
    Share,
)
from labeler.catalog.substances import LEAD, means


class Record(BaseModel):
    """A frozen record; a key it does not know is an error."""

    model_config = ConfigDict(frozen=True, extra="forbid", use_attribute_docstrings=True)


MaterialKind = Literal[
    "alloy", "silicone", "living rubber", "hair", "feather", "tinsel", "guard fibre",
    "wire", "thread", "glue", "paint", "eyes", "steel",
]  # fmt: skip


class Material(Record):
    """Something that goes into a jig: what it is made of and where it comes from."""

    name: Line
    kind: MaterialKind
    composition: dict[Line, Share] = Field(default_factory=dict)
    """Substance and its share by mass; shares add up to at most 100 %."""
    density: Density | None = None
    """Left out, an alloy's is computed from its composition."""
    origin: Country | None = None
    strands_per_tab: Annotated[int, Field(ge=1, le=500), COUNTED] | None = None
    """Strands in one tab as bought."""
    tab_weight: ExactWeight | None = None
    """What one tab weighs as bought."""
    supplier: Line | None = None
    certificate: Line | None = None
    """What the supplier's paper that vouches for the composition is called, and where it lies."""

    @cached_property
    def told(self) -> Fraction:
        """How much of the material the composition tells, by mass."""
        return sum(self.composition.values(), start=Fraction(0))

    @cached_property
    def lead_share(self) -> Fraction:
        """The share of lead by mass; nought where none is stated.

        An alloy that states no composition but is called lead counts as nothing but lead.
        """
        if not self.composition and self.kind == "alloy" and means(self.name, LEAD):
            return Fraction(1)
        return self.share_of(LEAD)

    def share_of(self, substances: tuple[str, ...]) -> Fraction:
        """Return the share by mass that the composition states of ``substances`` together."""
        return sum(
            (share for name, share in self.composition.items() if means(name, substances)),
            start=Fraction(0),
        )


HeadStyle = Literal["round", "football", "swim", "bullet", "flat", "cone", "banana"]


class Head(Record):
    """A jig head: its shape, the alloy it is cast from and the mould's cavities."""

    name: Line
    style: HeadStyle
    alloy: Line
    """The name of a material of kind alloy."""
    cavities: dict[str, ExactWeight] = Field(default_factory=dict)
    """Stated weight to the weight that the mould's cavity is marked with, where they differ."""
    marked_for: Line = "lead"
    """The metal for which the mould's cavities are marked."""
    eyes: bool = False
    """Whether eyes are painted or set on the head."""


HookBend = Literal["round", "flat", "sproat", "o'shaughnessy", "aberdeen"]


class Hook(Record):
    """A hook as it comes in the box."""

    name: Line
    bend: HookBend = "round"
    wire: Literal["light", "medium", "heavy"] = "medium"
    finish: Line = "black nickel"
    ink: Ink = "#3a3a3c"
    """How the finish looks."""
    eye: Annotated[int, Field(ge=0, le=90), COUNTED] = 60
    """The angle of the eye to the shank, in degrees."""
    origin: Country | None = None
    material: Line | None = None
    """The name of a material of kind steel."""


class Guard(Record):
    """A weed guard."""

    name: Line
    style: Literal["fibre", "wire", "braid"] = "fibre"
    strands: Annotated[int, Field(ge=1, le=200), COUNTED] = 30
    ink: Ink = "#20242a"
    material: Line | None = None
    """The name of a material."""


class Flake(Record):
    """Glitter or print in a strand."""

    ink: Ink
    density: Literal["sparse", "medium", "dense"] = "medium"


Seat = Literal["around", "back", "sides", "belly", "tail"]


class Layer(Record):
    """One layer of a skirt. Layers stand in tying order; the first tied shows outside."""

    material: Line
    """The name of a material."""
    shade: Line
    """The colour's name as bought."""
    ink: Ink
    tip: Ink | None = None
    """The second colour of a two-tone strand, at its free end."""
    flake: Flake | None = None
    strands: Annotated[int, Field(ge=1, le=2000), COUNTED]
    """Strands in this layer; for hair and feather, the hairs or plumes to draw."""
    amount: Line | None = None
    """What to pull from the bench where strands are not counted, such as 'a matchstick of hair'."""
    seat: Seat = "around"


class Colour(Record):
    """A colourway: its recipe, and the head that goes with it."""

    code: CodePart
    name: Line
    layers: Annotated[tuple[Layer, ...], Field(min_length=1)]
    head_ink: Ink = "#3d3d3b"
    head_paint: Line | None = None
    """The paint's name; left out, the head is bare metal."""
    thread_ink: Ink = "#1b1b1d"
    eye_ink: Ink = "#e8d36a"
    note: Line | None = None

    @property
    def strands(self) -> int:
        """Strands in one skirt."""
        return sum(layer.strands for layer in self.layers)


class Tie(Record):
    """How a pattern is tied, for the batch card."""

    thread: Line | None = None
    """The name of a material of kind thread."""
    wraps: Annotated[int, Field(ge=1, le=500), COUNTED] | None = None
    trim: Line | None = None
    """Where the skirt is trimmed, such as '3/8 in past the bend'."""
    glue: Line | None = None
    cure: Line | None = None
    notes: Line | None = None
    waste: Share | None = None
    """What to pull beyond the recipe for strands that are lost, such as '5 %'."""


class Bag(Record):
    """A bag that jigs are sold in."""

    name: Line
    width: PaperLength
    height: PaperLength
    clear: bool = True
    """Whether every unit is fully visible through it."""
