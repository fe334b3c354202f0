"""``labeler bags``, ``cards``, ``reprint``, ``unprint``; ``align``, for the printer they go to."""

from __future__ import annotations

import datetime as dt
import os
import shlex
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from labeler.cli import options, words
from labeler.findings import Finding, Grade, plural
from labeler.units import Length

if TYPE_CHECKING:
    from labeler.app.book import BookMade
    from labeler.app.print_request import PrintRequest
    from labeler.app.print_run import PrintResult
    from labeler.app.reprint import Reprinted
    from labeler.checker.report import Report


printing_options = options.together(
    click.option("--sku", "skus", multiple=True, metavar="SKU[=N]",
                 help='What to print: a SKU, a pattern such as "RV-*", or words of one product; '
                 "with =N so many of it. May be given again. Left out, the whole line."),
    click.option("--count", metavar="N", type=int,
                 help="How many of each without =N. Left out, one; of a lot, as many as it fills "
                 "packs."),
    click.option("--spare", default=0, metavar="N", type=click.IntRange(0, 10_000),
                 help="How many more of each, for those that go wrong."),
    click.option("--sheet", default="", metavar="NAME",
                 help="The sheet in the printer, by its geometry. Left out, letter-3x10 for "
                 "labels and letter-card for cards."),
    click.option("--start", default=1, show_default=True, metavar="CELL", type=options.first_cell,
                 help="The first cell to print on, counted row by row from the top left; or "
                 "next, the first free one of the sheet that was begun."),
    click.option("--spoiled", default="", metavar="CELLS",
                 help='Cells to leave out: "3,7-9", or "2:5" for cell 5 of the second sheet.'),
    options.flag("--fill", help="Fill the last sheet with the last product."),
    click.option("--printer", default="", metavar="NAME",
                 help="The printer's profile, as made with labeler align."),
    click.option("--layout", default="", metavar="NAME",
                 help="The layout; left out, the one that suits the size."),
    click.option("--lot", "lots", multiple=True, metavar="CODE[=N]",
                 help="The lot to print for: its product as it was, and its code; with =N so many. "
                 'May be given again, or be a pattern such as "26333*": several lots are one run.'),
    click.option("--ink", type=click.Choice(["colour", "black", "grey"]), default=None,
                 help="In colour; in pure black, with the engraving in a photo's place, or the "
                 "photo in black dots where a jig has no recipe; or grey: in black, and photos in "
                 "greys. Left out, rolls are printed in black, all else in colour."),
    options.flag("--outline",
                 help="Outline the cells, for a test print on plain paper: no cells are used up, "
                 "and nothing is counted."),
    options.flag("--preview",
                 help="Only look: write the pages in a frame that says so, and tell all that is "
                 "found; no cells are used up, and nothing is put on record."),
    options.flag("--trial",
                 help="Only try it: no cells are used up, and nothing is counted as printed."),
    click.option("--on", "day", metavar="DAY", type=options.day, default=dt.date.today,
                 help="With the prices and rules of that day, such as 2027-03-01; left out, "
                 "today's. A lot keeps the price that it was opened with."),
    options.flag("--even-so",
                 help="Hand the file out though something stops the press; the file and the "
                 "ledger remember it."),
    click.option("--why", default="", metavar="TEXT",
                 help="With --even-so: the reason, which the ledger keeps."),
    options.out,
    options.as_json("the result"),
)  # fmt: skip
"""What every printing verb takes."""


def print_and_report(request: PrintRequest, as_json: bool) -> int:
    """Print what is asked for and say what was made; return the exit status."""
    from labeler.app.print_run import print_pieces

    told: list[Finding] = []
    with words.Bar("Printing") as bar:
        printed = print_pieces(request, bar, None if as_json else _teller(told))
    if as_json:
        words.echo_json(as_record(printed))
        return status_of(printed)
    words.echo_findings(one for one in printed.findings if one not in told)
    made = plural(printed.pieces, "label" if request.use == "bags" else "card")
    click.echo(
        f"{printed.out}: {made} of {plural(printed.products, 'product')} on "
        f"{plural(printed.sheets, 'sheet')} {printed.sheet}, layout {printed.layout}."
    )
    _echo_labels(printed)
    if printed.preview:
        click.echo(_PREVIEW)
    elif printed.trial:
        click.echo(_TRIAL)
    elif printed.next_free.cell > 1:
        goes_on = "; --start next goes on there" if printed.run is not None else ""
        click.echo(f"The next free cell of the last sheet is {printed.next_free.cell}{goes_on}.")
    echo_end(printed)
    return status_of(printed)


def status_of(printed: PrintResult | BookMade) -> int:
    """Return the exit status: a preview is made even of what would be stopped."""
    return int(printed.preview and printed.report.stops)


_PREVIEW = "A preview, to look at: no cells are used up, and nothing is put on record."
_TRIAL = "A trial: no cells are used up, and nothing is counted as printed."


def _teller(told: list[Finding]) -> Callable[[Sequence[Finding]], None]:
    """Return what says findings before the file is made, and keeps them from being said again."""

    def tell(findings: Sequence[Finding]) -> None:
        words.echo_findings(findings)
        told.extend(findings)

    return tell


def _echo_labels(printed: PrintResult) -> None:
    """Say how many of what lie on the sheets, where that is not one number for all."""
    lots = any(lot for _, lot, _ in printed.labels)
    if len({count for _, _, count in printed.labels}) > 1 or (lots and len(printed.labels) > 1):
        for sku, lot, count in printed.labels:
            words.say(f"  {count:,} of {sku}" + (f", lot {lot}" if lot else ""))


def echo_end(printed: PrintResult) -> None:
    """Say as which run a print is on record, how its check came out, and how to print it."""
    if printed.run is not None and not printed.trial:
        taken_back = f"labeler unprint {printed.run} --why TEXT"
        click.echo(f"On record as run {printed.run}; if it is not printed after all: {taken_back}")
    echo_check(printed, printed.preview)
    if not printed.preview:
        click.echo("Print at 100 %, not fitted to the page.")


def echo_check(printed: PrintResult | BookMade, preview: bool = False) -> None:
    """Say that the finished file was checked, how it came out, and where to read more.

    Of a ``preview`` that was the file that it shows, which nobody has.
    """
    from labeler.checker.report import grouped

    report = printed.report
    stops, fixes, notes = (len(grouped(report.of(grade))) for grade in Grade)
    spite = "to put right" if preview else "to put right, handed out even so"
    verdict = f"{stops} {spite}" if stops else "nothing stops it"
    what, more = "Read back and checked", _check_again(printed.out)
    if preview:
        what, more = "What it shows was made and checked", "labeler check of the print"
    click.echo(
        f"{what}: {verdict}, {fixes} to look at, {notes} noted. {more} tells them, and what no "
        "checker sees. It is no legal advice."
    )


def _check_again(out: Path) -> str:
    """Return the command that checks the file once more from where the maker stands now."""
    folder = click.get_current_context().obj
    usual = (Path(), Path(os.environ.get("LABELER_CATALOG", "")))
    named = [] if folder in usual else ["--catalog", str(folder)]
    return shlex.join(["labeler", *named, "check", str(out)])


def as_record(printed: PrintResult) -> dict[str, Any]:
    """Return what was printed as plain values."""
    return {
        "done": True,
        "file": printed.out,
        "pieces": printed.pieces,
        "products": printed.products,
        "sheets": printed.sheets,
        "pages": printed.pages,
        "sheet": printed.sheet,
        "layout": printed.layout,
        "start": printed.start,
        "lot": printed.lot,
        "labels": [{"sku": sku, "lot": lot, "count": count} for sku, lot, count in printed.labels],
        "run": printed.run,
        "trial": printed.trial and not printed.preview,
        "preview": printed.preview,
        "next_free": {"sheet": printed.next_free.sheet, "cell": printed.next_free.cell},
        "findings": printed.findings,
        **as_checked(printed.report),
    }


def as_checked(report: Report) -> dict[str, Any]:
    """Return how a finished file was checked, and what was not, as plain values."""
    return {
        "checked": report.summary,
        "not_checked": report.not_checked,
        "in_spite_of": report.stopped_by,
    }


@click.command()
@printing_options
@click.pass_obj
def bags(folder: Path, /, as_json: bool, **asked: Any) -> int:
    """Print bag labels on the sheet that is in the printer.

    \b
    Examples:
      labeler bags --sku "RV-*" --count 12 --out bags.pdf
      labeler bags --sheet letter-2x7 --start 5 --spoiled 7 --lot 263290013 --out bags.pdf
      labeler bags --lot 263290013 --lot 263300011=6 --spare 2 --start next --out bags.pdf
      labeler bags --sku RV-38-40-MLN=6 --sku "river vesper dusk 1/2"=10 --out bags.pdf
    """  # noqa: D301
    from labeler.app.print_request import PrintRequest

    return print_and_report(PrintRequest(folder, use="bags", **asked), as_json)


@click.command()
@printing_options
@click.option("--size", type=options.size, metavar='"W x H"',
              help='The card\'s size, flat, such as "3 x 4 in"; left out, the bag\'s.')  # fmt: skip
@click.pass_obj
def cards(folder: Path, /, as_json: bool, **asked: Any) -> int:
    """Print card-backs: header cards that fold over the bag, insert cards with a back.

    \b
    Examples:
      labeler cards --sku "RV-*" --out cards.pdf
      labeler cards --layout insert-card --sheet a4-card --count 4 --out inserts.pdf
    """  # noqa: D301
    from labeler.app.print_request import PrintRequest

    return print_and_report(PrintRequest(folder, use="cards", **asked), as_json)


@click.command()
@click.argument("target", metavar="SKU|LOT[=N]")
@click.option("--count", metavar="N", type=int, help="How many, where there is no =N.")
@options.flag("--today", help="Print it by today's catalog and layouts, and show what differs.")
@click.option("--kind", "use", type=click.Choice(["bags", "cards"]), default=None,
              help="Bag labels or card-backs; left out, what was printed.")  # fmt: skip
@click.option("--run", metavar="NUMBER", type=int,
              help="As this run printed it; left out, the last one.")  # fmt: skip
@click.option("--sheet", default="", metavar="NAME",
              help="The sheet in the printer; left out, the one it was printed on.")  # fmt: skip
@click.option("--start", default=1, show_default=True, metavar="CELL", type=options.first_cell,
              help="The first cell, or next: the first free one of the begun sheet.")  # fmt: skip
@click.option("--spoiled", default="", metavar="CELLS", help='Cells to leave out, such as "3,7-9".')
@click.option("--printer", default="", metavar="NAME", help="The printer's profile.")
@options.flag("--outline", help="Outline the cells, for a test print: not counted.")
@options.flag("--preview", help="Only look at it: no cells used, nothing on record.")
@options.flag("--trial", help="Only try it: no cells used up, nothing counted.")
@options.flag("--even-so", help="Hand the file out though something stops it; it is remembered.")
@click.option("--why", default="", metavar="TEXT",
              help="With --even-so: the reason, which the ledger keeps.")  # fmt: skip
@options.out
@options.as_json("the result")
@click.pass_obj
def reprint(
    folder: Path, /, target: str, use: str | None, count: int | None, as_json: bool, **asked: Any
) -> int:  # fmt: skip
    """Print a label again just as it was, whatever has changed since.

    A SKU, or the words of a product, means its newest lot. The ledger keeps the product, the
    layout and the styles; where a typeface is gone it says so, and --today prints today's.

    \b
    Examples:
      labeler reprint RV-38-40-MLN --count 6 --start next --out six.pdf
      labeler reprint 263290013=6 --today --out six.pdf
    """  # noqa: D301
    from labeler.app.reprint import ReprintRequest, reprint
    from labeler.catalog.read import named_count

    target, own = named_count(target)
    if own is not None and count is not None and own != count:
        raise click.UsageError(f"{target}={own} and --count {count} are two counts")
    if own is None and count is None:
        raise click.UsageError(f"how many? Give --count 6, or {target}=6")
    asked["count"], told = count if own is None else own, list[Finding]()
    with words.Bar("Printing") as bar:
        request = ReprintRequest(folder, target, use=use or "", **asked)  # type: ignore[arg-type]
        done = reprint(request, bar, None if as_json else _teller(told))
    if as_json:
        words.echo_json(_record(done))
        return status_of(done.printed)
    words.echo_findings(one for one in done.printed.findings if one not in told)
    _echo(done, asked["today"])
    return status_of(done.printed)


def _echo(done: Reprinted, today: bool) -> None:
    printed = done.printed
    lot = f" of lot {printed.lot}" if printed.lot else ""
    click.echo(
        f"{printed.out}: {plural(printed.pieces, 'piece')}{lot} on "
        f"{plural(printed.sheets, 'sheet')} {printed.sheet}, layout {printed.layout}."
    )
    if printed.preview or printed.trial:
        click.echo(_PREVIEW if printed.preview else _TRIAL)
    if done.same:
        click.echo(f"Mark for mark the same as in run {done.of_run}.")
    if done.changed:
        click.echo("Today's differs:" if not today else "This is today's; it was:")
    for each in done.changed:
        was, now = each.was or "nothing", each.now or "nothing"
        words.say(f"  {each.what}: {was} then, {now} now")
    echo_end(printed)


def _record(done: Reprinted) -> dict[str, Any]:
    return as_record(done.printed) | {
        "of_run": done.of_run,
        "same": done.same,
        "changed": done.changed,
    }


@click.command()
@click.argument("run", metavar="RUN", type=click.IntRange(min=1))
@click.option("--why", required=True, metavar="TEXT", help="The reason; it stays in the journal.")
@options.key("nothing is taken back twice")
@options.as_json("the result")
@click.pass_obj
def unprint(folder: Path, /, run: int, why: str, key: str | None, as_json: bool) -> None:
    """Take back a run that was not printed: its cells are free, its labels are not counted.

    For a file that never went through the printer, or came out spoiled and was thrown away.
    Nothing is deleted: the run stays on record as taken back. "lot list LOT" shows a lot's runs.

    \b
    Example:
      labeler unprint 12 --why "paper jam, all thrown away"
    """  # noqa: D301
    from labeler.app.reprint import unprint

    done = unprint(folder, run, why, key)
    pieces = [{"kind": each.kind, "sku": each.sku, "lot": each.lot, "count": each.count}
              for each in done.pieces]  # fmt: skip
    if as_json:
        words.echo_json({"done": True, "run": run, "was": done.was, "why": why, "pieces": pieces})
        return
    said = {
        "printed": f"Run {run} is taken back: its cells are free, its labels no longer counted.",
        "trial": f"Run {run} was a trial: it took no cells, and nothing of it is counted.",
        "taken back": f"Run {run} was taken back before; nothing is changed.",
    }
    click.echo(said[done.was])
    for each in done.pieces:
        of = f", lot {each.lot}" if each.lot else ""
        words.say(f"  {plural(each.count, each.kind)} of {each.sku}{of}")


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


@click.command()
@click.option("--printer", required=True, metavar="NAME", help="What you call the printer.")
@click.option("--sheet", default="letter-3x10", show_default=True, metavar="NAME",
              help="Any sheet of the paper's size.")  # fmt: skip
@options.path("--out", help="Write the alignment sheet to this PDF.")
@options.flag("--both-sides", help="With crosses on the back too.")
@click.option("--dpi", type=click.IntRange(72, 4800), help="The printer's dots an inch.")
@click.option("--duplex", type=click.Choice(["long-edge", "short-edge"]),
              help="The edge over which it turns a sheet.")  # fmt: skip
@click.option("--feed", type=click.Choice(["auto", "hand"]),
              help="Whether it turns sheets by itself, or you do.")  # fmt: skip
@options.together(*(
    click.option(f"--{name.replace('_', '-')}", type=options.length, metavar="LENGTH", help=about)
    for name, about in _READINGS.items()
))  # fmt: skip
@options.as_json("the result")
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
        words.echo_json({"done": True, "file": out, **_align_record(printer)})
        return
    if measured:
        x, y = (Length(side).mm for side in printer.shift)
        click.echo(f"Kept in {profiles_of(trial)}. With --printer {printer.name} the ink goes")
        click.echo(f"{x:+.2f} mm across and {y:+.2f} mm down, and is stretched by")
        click.echo(f"{printer.scale[0]:.4f} and {printer.scale[1]:.4f}.")
    if out is not None:
        click.echo(f"{out}: print it at 100 %, measure as it says, and tell the distances.")


def _align_record(printer: Any) -> dict[str, Any]:
    return {
        "printer": printer.name,
        "shift_mm": [Length(side).mm for side in printer.shift],
        "scale": printer.scale,
        "skew": printer.skew,
        "dpi": printer.dpi,
    }
