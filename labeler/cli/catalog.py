"""``labeler catalog``, and around it ``pages``, ``new`` and ``help``."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from labeler.app.reference import TOPICS
from labeler.cli import options, words
from labeler.findings import plural

if TYPE_CHECKING:
    from labeler.app.take_in import Own, TakenIn
    from labeler.findings import Finding


@click.command()
@click.option("--for", "audience", required=True, type=click.Choice(["dealer", "retail"]),
              help="For shops, with what they pay; or for buyers, with no dealer price in it.",
)  # fmt: skip
@click.option("--tier", default="", metavar="NAME",
              help="The price tier; left out, the dealer's, or all tiers side by side.",
)  # fmt: skip
@click.option("--dealer", default="", metavar="NAME",
              help="The shop that it is for; its name stands on cover and order form.")  # fmt: skip
@click.option("--only", multiple=True, metavar="PATTERN",
              help='A pattern, a SKU, SKUs such as "RV-*", or words of one product. May be given '
              "again.")  # fmt: skip
@click.option("--paper", type=click.Choice(["letter", "a4"]), default="letter", show_default=True,
              help="The paper.")  # fmt: skip
@options.flag("--booklet", help="Two pages on each side of a sheet, to be folded and stapled.")
@options.flag("--bleed", help="With bleed and crop marks, for a print shop.")
@options.flag("--archive", help="Built after PDF/A-3b. No validator is run over your copy.")
@options.path("--order-sheet", help="Write the order form as a spreadsheet too (XLSX).")
@options.flag("--prices", help="The price list alone, on as few pages as it takes.")
@options.flag("--keystone", help="Twice the dealer price, in a column of its own.")
@options.out
@click.option("--on", "day", metavar="DAY", type=options.day, default=dt.date.today,
              help="With the prices and rules of that day, such as 2027-03-01; left out, today's.",
)  # fmt: skip
@options.flag("--preview",
              help="Only look: the pages in a frame that says so, and all that is found.",
)  # fmt: skip
@options.flag("--even-so",
              help="Hand the book out though something stops it; the file remembers it.",
)  # fmt: skip
@options.as_json("the result")
@click.pass_obj
def catalog(folder: Path, /, as_json: bool, **asked: Any) -> int:
    """Make the catalog as a book: a page for each pattern, prices, index, order form.

    \b
    Examples:
      labeler catalog --for dealer --dealer "A Shop Near You" --out dealer.pdf
      labeler catalog --for retail --booklet --bleed --out booklet.pdf
      labeler catalog --for dealer --prices --out prices.pdf
      labeler catalog --for dealer --only "RV-*" --preview --out look.pdf
    """  # noqa: D301
    from labeler.app.book import BookRequest, make_catalog_book
    from labeler.cli.printing import as_checked, echo_check, status_of

    with words.Bar("Setting pages") as bar:
        made = make_catalog_book(BookRequest(folder, **asked), bar)
    if as_json:
        words.echo_json({
            "done": True, "file": made.out, "pages": made.pages, "products": made.products,
            "patterns": made.patterns, "tiers": made.tiers, "preview": made.preview,
            **as_checked(made.report), "findings": made.findings,
        })  # fmt: skip
        return status_of(made)
    words.echo_findings(made.findings)
    click.echo(
        f"{made.out}: {plural(made.pages, 'page')}, {plural(made.products, 'product')} "
        f"in {plural(made.patterns, 'pattern')}."
    )
    if made.preview:
        click.echo("A preview, to look at and not to hand on: every page says so.")
    echo_check(made, made.preview)
    if asked["booklet"] and not made.preview:
        click.echo("Print both sides, turned over the short edge; fold, and staple in the fold.")
    return status_of(made)


@click.command()
@click.option("--out", required=True, metavar="DIR", type=click.Path(path_type=Path),
              help="The folder to write. Upload it to where your links lead.")  # fmt: skip
@options.as_json("the result")
@click.pass_obj
def pages(folder: Path, /, out: Path, as_json: bool) -> None:
    """Write the web pages that the labels' codes lead to, one for each product and lot.

    \b
    Example:
      labeler --catalog my_line pages --out site
    """  # noqa: D301
    from labeler.app.book import make_pages

    with words.Bar("Writing pages") as bar:
        made = make_pages(folder, out, progress=bar)
    if as_json:
        words.echo_json({
            "done": True, "folder": made.out, "pages": made.pages, "lots": made.lots,
            "findings": made.findings,
        })  # fmt: skip
        return
    words.echo_findings(made.findings)
    lots = f", {plural(made.lots, 'lot')} among them" if made.lots else ""
    click.echo(f"{made.out}: {plural(made.pages, 'page')}{lots}.")
    click.echo("Upload the folder as it is to the host that your links begin with.")


@click.command()
@click.argument("folder", type=options.PATH)
@options.path("--from", "sheet",
              help="Your own spreadsheet (XLSX, XLS, ODS, CSV). It is only read, now and later.",
)  # fmt: skip
@options.path("--photos", metavar="DIR",
              help="Your photos. Small copies without camera and place go into FOLDER.",
)  # fmt: skip
@options.path("--batches",
              help="Your log of old batches: lots by their old codes, and what is on hand.",
)  # fmt: skip
@options.path("--answers",
              help="The answers to the five questions below, a line each, such as sold = WI.",
)  # fmt: skip
@click.option("--maker", metavar="TEXT", help="Who makes them: name, street, city, state ZIP.")
@click.option("--sold", metavar="TEXT", help="Where they are sold: states and countries.")
@click.option("--heads", metavar="TEXT", help="Lead, or the lead-free alloy with its shares.")
@click.option("--origin", metavar="TEXT", help='Countries: "hooks Japan, the rest USA".')
@click.option("--bags", metavar="TEXT", help='The bag: "clear, 1 a bag, 3 x 5 in".')
@options.as_json("the result")
def new(
    folder: Path, sheet: Path | None, photos: Path | None, batches: Path | None,
    answers: Path | None, as_json: bool, **said: str | None,
) -> None:  # fmt: skip
    """Make a folder that prints: from your own spreadsheet, or a starter to fill in.

    With --from, at a terminal, five questions are asked; an empty answer stays open until you write
    it into catalog.toml. Given again, what is new is added and nothing of yours is changed.

    \b
    Examples:
      labeler new my_line
      labeler new my_line --from jigs.xlsx --photos pictures
    """  # noqa: D301
    answered = {name: text for name, text in said.items() if text is not None}
    if sheet is not None:
        from labeler.app.answers import answers_file
        from labeler.app.take_in import Own

        given = answers_file(answers) if answers else {}
        _take_in(folder, Own(sheet, photos, batches), given | answered, as_json)
        return
    others = {"photos": photos, "batches": batches, "answers": answers}
    if lone := next(iter(answered), next((name for name, path in others.items() if path), "")):
        raise click.UsageError(f"--{lone} goes with --from FILE, your own spreadsheet")
    from labeler.app.reference import start_catalog

    made = start_catalog(folder)
    if as_json:
        words.echo_json({"done": True, "folder": folder, "files": made})
        return
    for file in made:
        click.echo(f"  {file}")
    click.echo(f"Open {folder / 'catalog.toml'} and put your own line in, then try:")
    click.echo(f"  labeler --catalog {_typed(folder)} check")
    click.echo(f"  labeler --catalog {_typed(folder)} bags --out bags.pdf")


def _typed(folder: Path) -> str:
    """Return a folder as it is typed."""
    return f'"{folder}"' if " " in str(folder) else str(folder)


def _take_in(folder: Path, own: Own, given: dict[str, str], as_json: bool) -> None:
    from labeler.app import answers as asking
    from labeler.app.take_in import open_old, take_in, unanswered
    from labeler.catalog.structure import questions

    still = unanswered(folder, own)
    if words.at_a_terminal() and not as_json:
        settled = {name: "" for name in questions() if name not in still}
        asked = asking.ask(settled | given, _prompt, _say_back)
        given = {name: text for name, text in asked.items() if text}
    read = asking.read_answers(given)
    with words.Bar("Copying photos") as bar:
        taken = take_in(folder, own, read, bar)
    if not as_json:
        _echo_taken(taken)
    old = open_old(folder, own.batches) if own.batches and taken.prints else None
    if as_json:
        words.echo_json({
            "done": True, "folder": folder, "first": taken.first, "page": taken.page,
            "rows": taken.rows, "photos": taken.photos, "prints": taken.prints,
            "changed": taken.changed,
            "products": [asdict(one) for one in taken.products],
            **{name.replace(" ", "_"): findings for name, findings in taken.lists().items()},
            "lots": [lot.code for lot in old.lots] if old else [],
            "findings": old.findings if old else [],
        })  # fmt: skip
    elif own.batches and old is None:
        click.echo(f"{own.batches} is not read yet. Give the command again once that is answered.")
    elif old:
        words.echo_findings(old.findings)
        lots = [lot for lot in old.lots if lot.code not in old.again]
        click.echo(f"{plural(len(lots), 'lot')} opened of what was there before.")
        click.echo(f"  labeler --catalog {_typed(folder)} lot list")


def _say_back(finding: Finding) -> None:
    """Say how an answer was understood; the question stands right below where it was not."""
    words.echo_findings([replace(finding, hint="")])


def _prompt(question: str, example: str) -> str:
    click.echo(f"\n{question}\n  Such as: {example}. Enter leaves it open.", err=True)
    return str(click.prompt(">", default="", show_default=False, prompt_suffix=" ", err=True))


def _echo_taken(taken: TakenIn) -> None:
    words.echo_findings(taken.asked)
    counts = ", ".join(f"{len(found)} {name}" for name, found in taken.lists().items() if found)
    rows = plural(len(taken.products), "product")
    if taken.prints:
        click.echo(f"{taken.folder}: {rows} of {plural(taken.rows, 'row')} of your spreadsheet.")
    else:
        click.echo(f"{taken.folder} is made. Labels wait for what is asked above.")
    if taken.photos:
        click.echo(f"{plural(taken.photos, 'photo')} copied, without camera and place.")
    new_ones = [one for one in taken.products if one.new]
    for lines in (
        [f"new: {one.sku}  {one.words}" for one in new_ones],
        [f"added to catalog.toml: {key}" for key in taken.changed],
    ):
        for line in lines[:_NEW_SHOWN]:
            words.say(f"  {line}")
        if len(lines) > _NEW_SHOWN:
            click.echo(f"  and {len(lines) - _NEW_SHOWN} more")
    if not taken.first and not new_ones and not taken.changed and not taken.photos:
        click.echo("Nothing is new since it was last taken in.")
    click.echo(f"{counts}: {taken.page} tells each with its cell.")
    click.echo(f"  labeler --catalog {_typed(taken.folder)} check")
    if taken.prints and taken.products:
        click.echo(f"  labeler --catalog {_typed(taken.folder)} bags --out bags.pdf")


_NEW_SHOWN = 12


@click.command()
@options.as_json("the list")
@click.pass_obj
def sheets(folder: Path, /, as_json: bool) -> None:
    """List the sheets to print on, and the layouts that fit each; the usual one comes first.

    \b
    Example:
      labeler sheets
    """  # noqa: D301
    from labeler.app.layouts import shown_sheets

    shown = tuple(shown_sheets(folder))
    if as_json:
        words.echo_json({"sheets": shown})
        return
    words.echo_table(
        ("sheet", "what it is", "layouts"),
        [
            (each.sheet.name, each.what,
             ", ".join(dict.fromkeys(name for names in each.layouts.values() for name in names)))
            for each in shown
        ],
    )  # fmt: skip
    click.echo("Where their sizes come from: labeler help sheets")


@click.command()
@click.option("--specimen", default="", metavar="SKU",
              help="Show every layout with this product, in color and in black.")  # fmt: skip
@options.path("--out", help="The PDF of the specimen.")
@options.as_json("it")
@click.pass_obj
def layouts(folder: Path, /, specimen: str, out: Path | None, as_json: bool) -> None:
    """List the layouts with their sizes, what each carries and the sheets that fit it.

    \b
    Examples:
      labeler layouts
      labeler --catalog my_line layouts --specimen RV-38-40-MLN --out specimen.pdf
    """  # noqa: D301
    from labeler.app.layouts import shown_layouts

    if bool(specimen) != (out is not None):
        raise click.UsageError("a specimen needs both: --specimen SKU --out specimen.pdf")
    if out is None:
        if as_json:
            words.echo_json({"layouts": tuple(shown_layouts(folder))})
        else:
            _echo_reference("layouts", folder)
        return
    from labeler.app.specimen import make_specimen

    made = make_specimen(folder, specimen, out)
    if as_json:
        words.echo_json({
            "done": True, "file": made.out, "sku": made.sku, "pages": made.pages,
            "layouts": made.layouts, "findings": made.findings,
        })  # fmt: skip
        return
    words.echo_findings(made.findings)
    shown = plural(len(made.layouts), "layout")
    click.echo(f"{made.out}: {shown} with {made.sku}, to scale, {plural(made.pages, 'page')}.")


@click.command(name="help")
@click.argument("topic", required=False, metavar="[TOPIC]", type=click.Choice(list(TOPICS)))
@click.pass_obj
def help_(folder: Path, /, topic: str | None) -> None:
    """Show a reference: the catalog's keys, the sheets, layouts, rules, or findings.

    Left out, the topics. How a command is used says its own --help.

    \b
    Examples:
      labeler help
      labeler help findings
    """  # noqa: D301
    if topic is None:
        for name, about in TOPICS.items():
            click.echo(f"labeler help {name:<10}{about}")
        return
    _echo_reference(topic, folder)


def _echo_reference(topic: str, folder: Path) -> None:
    from labeler.app.reference import reference

    most = max(40, words.width())
    for entry in reference(topic, folder):
        for line in entry.split("\n"):
            words.say("\n".join(words.wrapped(line, most)))
