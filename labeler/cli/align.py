"""``labeler align``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from labeler.cli import words
from labeler.units import Length

_READINGS = {
    "left": "From the paper's left edge to cross A.",
    "top": "From the paper's top edge to cross A.",
    "left_low": "From the left edge to cross C, below A.",
    "top_far": "From the top edge to cross B, right of A.",
    "across": "From cross A to cross B.",
    "down": "From cross A to cross C.",
    "back_left": "On the back, from the left edge to cross A.",
    "back_top": "On the back, from the top edge to cross A.",
}


class LengthType(click.ParamType[float]):
    """A length with its unit."""

    name = "length"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Return points."""
        if isinstance(value, float):
            return value
        try:
            return Length.parse(str(value)).pt
        except ValueError as error:
            self.fail(f"{value!r} is no length; expected {error}", param, ctx)


def _readings(verb: Any) -> Any:
    for name, about in reversed(_READINGS.items()):
        option = f"--{name.replace('_', '-')}"
        verb = click.option(option, name, type=LengthType(), metavar="LENGTH", help=about)(verb)
    return verb


@click.command()
@click.option("--printer", required=True, metavar="NAME", help="What you call the printer.")
@click.option("--sheet", default="letter-3x10", show_default=True, metavar="NAME",
              help="Any sheet of the paper's size.")  # fmt: skip
@click.option("--out", metavar="FILE", type=click.Path(path_type=Path),
              help="Write the alignment sheet to this PDF.")  # fmt: skip
@click.option("--both-sides", is_flag=True, help="With crosses on the back too.")
@click.option("--dpi", type=click.IntRange(72, 4800), help="The printer's dots an inch.")
@click.option("--duplex", type=click.Choice(["long-edge", "short-edge"]),
              help="The edge over which it turns a sheet.")  # fmt: skip
@click.option("--feed", type=click.Choice(["auto", "hand"]),
              help="Whether it turns sheets by itself, or you do.")  # fmt: skip
@_readings
@click.option("--json", "as_json", is_flag=True, help="Tell the result as JSON.")
@click.pass_obj
def align(folder: Path, /, out: Path | None, both_sides: bool, as_json: bool, **asked: Any) -> None:
    """Print the alignment sheet; then tell what you measured on it, once for each printer.

    \b
    Examples:
      labeler align --printer desk --dpi 600 --out align.pdf
      labeler align --printer desk --left "5/8 in" --top "16.5 mm"
    """  # noqa: D301
    from labeler.app.align import Trial, align_printer, profiles_of

    measured = {name: asked.pop(name) for name in _READINGS if asked.get(name) is not None}
    trial = Trial(folder, **{k: v for k, v in asked.items() if k not in _READINGS})
    if not measured and out is None:
        raise click.UsageError("give --out for the sheet, or the distances measured on it")
    printer = align_printer(trial, measured, out, both_sides)
    if as_json:
        words.echo_json({"done": True, "file": str(out) if out else None, **_record(printer)})
        return
    if measured:
        x, y = (Length(side).mm for side in printer.shift)
        click.echo(f"Kept in {profiles_of(trial)}. With --printer {printer.name} the ink goes")
        click.echo(f"{x:+.2f} mm across and {y:+.2f} mm down, and is stretched by")
        click.echo(f"{printer.scale[0]:.4f} and {printer.scale[1]:.4f}.")
    if out is not None:
        click.echo(f"{out}: print it at 100 %, measure as it says, and tell the distances.")


def _record(printer: Any) -> dict[str, Any]:
    return {
        "printer": printer.name,
        "shift_mm": [Length(side).mm for side in printer.shift],
        "scale": list(printer.scale),
        "skew": list(printer.skew),
        "dpi": printer.dpi,
    }
