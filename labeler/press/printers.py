"""Printers: how they turn a sheet over, and what moves their ink to where it should land.

Profiles stand in ``printers.toml`` in the catalog folder. A few distances measured on the
alignment sheet make the correction of one; a matrix moves (x, y) as ``marks.apply`` has it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, cast

from pydantic import BeforeValidator, Field

from labeler.files import delivered
from labeler.findings import Finding, LabelerError, Place, did_you_mean, refusal, stop
from labeler.geometry import Matrix, inverse, multiply
from labeler.press.sheets import RULES, Dpi, TomlTable, read_lengths
from labeler.tomlfile import read_toml, validate
from labeler.units import POINTS_PER_INCH, Length

if TYPE_CHECKING:
    from tomlkit.items import Table as Written

Flip = Literal["long-edge", "short-edge"]
Turn = Literal[0, 180]


def swings_sideways(page_width: float, page_height: float, flip: Flip) -> bool:
    """Tell whether the page swings like a book's leaf, left to right, rather than head over heels.

    Source: ISO 32000-1:2008, table 150, Duplex: the edge is the paper's, not the picture's.
    """
    stands = page_height >= page_width
    return stands == (flip == "long-edge")


def back_corner(
    page: tuple[float, float],
    corner: tuple[float, float],
    size: tuple[float, float],
    flip: Flip,
) -> tuple[float, float, Turn]:
    """Return the top left corner of the back behind a front, and its turn.

    A back is meant to be read after turning the finished piece like a page. When the sheet
    itself goes head over heels, the back is therefore drawn turned by 180 degrees.

    Args:
        page: width and height of the page, in points.
        corner: the front's top left corner.
        size: width and height of the piece.
        flip: the edge over which the printer turns the sheet.
    """
    (page_width, page_height), (x, y), (width, height) = page, corner, size
    if swings_sideways(page_width, page_height, flip):
        return page_width - x - width, y, 0
    return x, page_height - y - height, 180


Feed = Literal["auto", "hand"]
Lying = Literal["left", "right"]


@dataclass(frozen=True, slots=True)
class Printer:
    """The correction for one printer; a fresh profile corrects nothing.

    It is measured on paper that stands. A page that lies is turned by a quarter on its way to
    the paper, and the correction is turned with it.

    Attributes:
        name: what the maker calls it.
        dpi: its dots an inch, if known.
        shift: how far to move the print right and down, in points.
        scale: by how much to stretch it across and down.
        skew: how far x moves for each point down the page, and y for each point across.
        back: how much farther to move a back right and down, in points.
        duplex: the edge over which it turns a sheet.
        feed: whether it turns sheets by itself or the maker does, the whole stack at once.
        lying: where the top of a page that lies goes on paper that stands.
    """

    name: str = ""
    dpi: int | None = None
    shift: tuple[float, float] = (0.0, 0.0)
    scale: tuple[float, float] = (1.0, 1.0)
    skew: tuple[float, float] = (0.0, 0.0)
    back: tuple[float, float] = (0.0, 0.0)
    duplex: Flip = "long-edge"
    feed: Feed = "auto"
    lying: Lying = "left"

    def matrix(
        self, side: Literal["front", "back"] = "front", page: tuple[float, float] = (0.0, 0.0)
    ) -> Matrix:
        """Return the correction as a matrix over a page's points, top left origin, y down.

        Args:
            side: of the sheet.
            page: the page's width and height.
        """
        (across, down), (x, y) = self.scale, self.shift
        lean, tilt = self.skew
        if side == "back":
            x, y = x + self.back[0], y + self.back[1]
        upright = across, tilt, lean, down, x, y
        if page[0] <= page[1]:
            return upright
        onto_paper = _quarter_turn(page, self.lying)
        return multiply(multiply(onto_paper, upright), inverse(onto_paper))


def _quarter_turn(page: tuple[float, float], lying: Lying) -> Matrix:
    """Return the matrix that takes a lying page's points to the paper's.

    CUPS turns a page whose top goes left, "landscape" as RFC 8011, 5.2.10 has it: by 90 degrees
    counter-clockwise; some drivers turn it the other way.
    """
    width, height = page
    return (0, -1, 1, 0, 0, width) if lying == "left" else (0, 1, -1, 0, height, 0)


_FARTHEST_MEASURED = POINTS_PER_INCH / 2
_SCALE_OFF = 0.03
"""Half an inch or three in a hundred is no printer's error: the page was scaled to fit, or the
ruler misread. Common practice, no published source."""

_DRIFT = POINTS_PER_INCH / 4


@dataclass(frozen=True, slots=True)
class Measurements:
    """Distances on the printed alignment sheet, in points; None for what was not measured.

    Attributes:
        left: from the paper's left edge to cross A.
        top: from the paper's top edge to cross A.
        left_low: from the left edge to cross C, below A.
        top_far: from the top edge to cross B, right of A.
        across: from cross A to cross B.
        down: from cross A to cross C.
        back_left: on the back, from the left edge to cross A.
        back_top: on the back, from the top edge to cross A.
    """

    left: float
    top: float
    left_low: float | None = None
    top_far: float | None = None
    across: float | None = None
    down: float | None = None
    back_left: float | None = None
    back_top: float | None = None


@dataclass(frozen=True, slots=True)
class Crosses:
    """Where the crosses of the alignment sheet belong: ``inset`` from each edge of the paper."""

    width: float
    height: float
    inset: float

    @property
    def across(self) -> float:
        """From cross A to cross B."""
        return self.width - 2 * self.inset

    @property
    def down(self) -> float:
        """From cross A to cross C."""
        return self.height - 2 * self.inset


def correction(crosses: Crosses, measured: Measurements, before: Printer) -> Printer:
    """Return the profile with which the crosses land where they belong.

    Args:
        crosses: where they belong.
        measured: where they are.
        before: the profile with which the sheet was printed; a fresh one corrects nothing.

    Raises:
        LabelerError: if a distance is no printer's error, naming each such distance.
    """
    if findings := _implausible(crosses, measured):
        raise LabelerError(findings)
    printed = _as_printed(crosses, measured)
    across, tilt, lean, down, x, y = multiply(inverse(printed), before.matrix())
    back = before.back
    if measured.back_left is not None or measured.back_top is not None:
        # How much farther a back must move, so that its own cross A lands right too.
        a, b, c, d, e, f = printed
        e += _or(measured.back_left, measured.left) - measured.left
        f += _or(measured.back_top, measured.top) - measured.top
        now = multiply(inverse((a, b, c, d, e, f)), before.matrix("back"))
        back = now[4] - x, now[5] - y
    return replace(before, shift=(x, y), scale=(across, down), skew=(lean, tilt), back=back)


def _or(measured: float | None, otherwise: float) -> float:
    return otherwise if measured is None else measured


def _as_printed(crosses: Crosses, measured: Measurements) -> Matrix:
    """Return the matrix that takes the page as it was sent to the paper as it came out."""
    across = _or(measured.across, crosses.across)
    down = _or(measured.down, crosses.down)
    fall = _or(measured.top_far, measured.top) - measured.top
    lean = _or(measured.left_low, measured.left) - measured.left
    a, b = math.sqrt(across**2 - fall**2) / crosses.across, fall / crosses.across
    c, d = lean / crosses.down, math.sqrt(down**2 - lean**2) / crosses.down
    e = measured.left - (a + c) * crosses.inset
    f = measured.top - (b + d) * crosses.inset
    return a, b, c, d, e, f


def _implausible(crosses: Crosses, measured: Measurements) -> list[Finding]:
    """Return a finding for each distance that no printer gets so wrong."""
    inset, across, down = crosses.inset, crosses.across, crosses.down
    near = min(_FARTHEST_MEASURED, inset)
    edges = ("left", "top", "left_low", "top_far", "back_left", "back_top")
    findings = _off(measured, dict.fromkeys(edges, (inset, near)))
    findings += _off(
        measured, {"across": (across, across * _SCALE_OFF), "down": (down, down * _SCALE_OFF)}
    )
    return findings or _off(
        measured,
        {
            "left_low": (measured.left, min(_DRIFT, down / 20)),
            "top_far": (measured.top, min(_DRIFT, across / 20)),
        },
    )


def _off(measured: Measurements, due: dict[str, tuple[float, float]]) -> list[Finding]:
    """Return a finding for each distance that is not as long as is due, give or take so much."""
    return [
        stop(
            "distance-implausible",
            Place(key=key.replace("_", "-")),
            "no printer is out by so much",
            found=f"{Length(value).mm:.2f} mm",
            expected=f"about {Length(length).mm:.2f} mm",
            hint="Print the sheet at 100 % (actual size), not fitted to the page, and measure "
            "again.",
        )
        for key, (length, slack) in due.items()
        if (value := getattr(measured, key)) is not None and not abs(value - length) <= slack
    ]


FILE = "printers.toml"


def _read_offset(value: Any) -> tuple[float, float]:
    """Return two lengths; of more than an inch is a mistake and no printer's."""
    across, down = read_lengths(value, signed=True)
    if max(abs(across), abs(down)) > POINTS_PER_INCH:
        raise ValueError("two lengths of at most 1 in")
    return across, down


def _numbers(least: float, most: float) -> BeforeValidator:
    def read(value: Any) -> tuple[float, float]:
        if (
            isinstance(value, list)
            and len(value) == 2
            and all(isinstance(part, int | float) and least <= part <= most for part in value)
        ):
            return float(value[0]), float(value[1])
        raise ValueError(f"two numbers from {least:g} to {most:g}, across and down")

    return BeforeValidator(read)


_Offset = Annotated[tuple[float, float], BeforeValidator(_read_offset)]


class _PrinterTable(TomlTable):
    """A profile as it is written.

    A correction of more than a tenth or three degrees is a mistake and no printer's.
    """

    dpi: Dpi | None = None
    shift: _Offset = (0.0, 0.0)
    scale: Annotated[tuple[float, float], _numbers(0.9, 1.1)] = (1.0, 1.0)
    skew: Annotated[tuple[float, float], _numbers(-0.05, 0.05)] = (0.0, 0.0)
    back: _Offset = (0.0, 0.0)
    duplex: Flip = "long-edge"
    feed: Feed = "auto"
    lying: Lying = "left"


class _PrinterFile(TomlTable):
    printer: dict[str, _PrinterTable] = Field(default_factory=dict)


_HEAD = (
    "Printer profiles: how each printer's ink is moved so that it lands where it should.",
    "shift and back: right and down. scale: across and down. skew: how far x moves for each",
    "unit down the page, and y for each unit across. duplex: the edge over which it turns.",
    'feed = "hand" if you turn the sheets over yourself. lying: where the top of a page that',
    "lies (landscape) goes when it is turned to fit the paper, left or right.",
)


def read_printers(catalog: Path) -> dict[str, Printer]:
    """Return the profiles of the catalog folder, by name; none if there is no file.

    Raises:
        LabelerError: with everything that is wrong in the file, each at its line.
    """
    path = catalog / FILE
    if not path.exists():
        return {}
    file, findings = validate(_PrinterFile, read_toml(path, "file-unreadable"), rules=RULES)
    if file is None:
        raise LabelerError(findings)
    return {name: Printer(name, **dict(table)) for name, table in file.printer.items()}


def find_printer(name: str, catalog: Path) -> Printer:
    """Return the profile called ``name``.

    Raises:
        LabelerError: if there is none, with the nearest name; or if the file has errors.
    """
    known = read_printers(catalog)
    if name not in known:
        raise refusal(
            "unknown-printer",
            Place(file=str(catalog / FILE)),
            f"there is no printer called {name!r}",
            hint=did_you_mean(name, list(known))
            or "Make its profile first: labeler align --printer NAME --out align.pdf",
        )
    return known[name]


def save_printer(printer: Printer, catalog: Path) -> None:
    """Write a profile, in place of one with the same name. Comments in the file stay.

    Raises:
        LabelerError: if the file there has errors, or can't be written.
    """
    import tomlkit  # only where a profile is written
    from tomlkit.exceptions import TOMLKitError
    from tomlkit.items import InlineTable

    read_printers(catalog)
    path = catalog / FILE
    try:
        document = tomlkit.parse(path.read_bytes().decode("utf-8-sig"))
    except FileNotFoundError:
        document = tomlkit.document()
        for line in _HEAD:
            document.add(tomlkit.comment(line))
        document.add(tomlkit.nl())
    except TOMLKitError as error:
        raise refusal(
            "file-unreadable", Place(file=str(path)), f"this file can't be edited: {error}"
        ) from error
    printers = cast("Written", document.setdefault("printer", tomlkit.table(is_super_table=True)))
    if printer.name not in printers:
        inline = isinstance(printers, InlineTable)
        printers[printer.name] = tomlkit.inline_table() if inline else tomlkit.table()
    _note_down(cast("Written", printers[printer.name]), printer)
    with delivered(path) as file:
        file.write(tomlkit.dumps(document).encode("utf-8"))


def _note_down(table: Written, printer: Printer) -> None:
    if printer.dpi is not None:
        table["dpi"] = printer.dpi
    else:
        table.pop("dpi", None)
    table["shift"] = [_mm(length) for length in printer.shift]
    table["scale"] = [round(factor, 6) for factor in printer.scale]
    table["skew"] = [round(part, 6) for part in printer.skew]
    table["back"] = [_mm(length) for length in printer.back]
    table["duplex"] = printer.duplex
    table["feed"] = printer.feed
    table["lying"] = printer.lying


def _mm(length: float) -> str:
    return f"{round(Length(length).mm, 3) + 0.0:.3f} mm"
