"""``labeler lot``: everything about the lots of a batch, from its code to its batch card."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from labeler.cli import options, words
from labeler.findings import plural

if TYPE_CHECKING:
    from labeler.app.lots import LotLine, LotStory
    from labeler.app.open_lots import Assigned
    from labeler.app.workstation import LedgerLocation
    from labeler.findings import Finding
    from labeler.ledger.lots import Lot
    from labeler.ledger.runs import PastRun
    from labeler.ledger.store import JournalEntry
    from labeler.marks import InkMode


@click.group()
def lot() -> None:
    """Lots: a code for every batch, and what went into it.

    \b
    Example:
      labeler lot assign RV-38-40-MLN --count 60 --material hook=HK-2291
      labeler lot card 263290013 --out card.pdf
      labeler bags --lot 263290013 --out bags.pdf
    """  # noqa: D301


@lot.command()
@click.argument("sku", required=False)
@click.option(
    "--count",
    metavar="N",
    type=int,
    help="How many jigs are in the batch; of assorted packs too, all jigs in them.",
)
@click.option("--made", metavar="DATE", type=options.past_day,
              help="The day it was made; left out, today at the bench.")  # fmt: skip
@click.option("--material", "materials", multiple=True, metavar="KIND=SUPPLIER-LOT",
              help="A supplier's lot that went in, such as hook=HK-2291.")  # fmt: skip
@options.key("it opens no second lot")
@options.flag("--sure",
              help="Open it though one just like it is there, or of long ago, or though its packs "
              "take jigs that are promised to an order.")  # fmt: skip
@options.note
@options.path("--from", "file",
              help="Open a lot for every row of a spreadsheet (CSV or XLSX): sku, count, and made,"
              " materials, key, note, or a column for each kind of material.")  # fmt: skip
@options.as_json("the lots")
@click.pass_obj
def assign(
    folder: Path, /, sku: str | None, count: int | None, file: Path | None, sure: bool,
    as_json: bool, **asked: Any,
) -> None:  # fmt: skip
    """Open a lot for a batch and give it a code.

    The lot keeps the product as it is today: a reprint is the same label, whatever changes.
    One SKU and a count, or a spreadsheet with --from, all of it or nothing. Several suppliers'
    lots in one text ("bag 74 + bag 75") are taken apart; what stands in quotes is one. Days may be
    written as 2026-11-27, Nov 27 or 11/27, if it is clear which is the month.

    \b
    Examples:
      labeler lot assign RV-38-40-MLN --count 60 --material hook=HK-2291 --material thread=T-7
      labeler lot assign --from batches.csv
    """  # noqa: D301
    from labeler.app.open_lots import BatchRequest, open_lot, open_lots

    if file is not None:
        if sku or count is not None or asked["made"] or asked["materials"] or asked["note"]:
            raise click.UsageError("--from takes everything from its file; leave the rest out")
        done = open_lots(folder, file, asked["key"], sure, None if as_json else words.agree)
    elif sku is None or count is None:
        raise click.UsageError("give a SKU and its --count, or a spreadsheet with --from")
    else:
        request = BatchRequest(folder, sku, count, sure=sure, **asked)
        done = open_lot(request, None if as_json else words.agree)
    if as_json:
        words.echo_json(_record(done))
        return
    words.echo_findings(each for each in done.findings if each not in done.agreed)
    for lot in done.lots:
        words.say(line_of(lot, lot.code in done.again))


@lot.command()
@click.argument("counts", metavar="SKU=N ...", nargs=-1)
@options.path("--from", "log",
              help="A log of old batches (CSV, XLSX, XLS or ODS): day, product, count, and perhaps"
              " code, left, notes, a column for each kind of material.")  # fmt: skip
@options.flag("--on-hand", help="Take the packs that your own spreadsheet counts.")
@click.option("--counted", metavar="DATE", type=options.past_day,
              help="The day of the counting; left out, today at the bench.")  # fmt: skip
@options.flag("--leave-out", help="Open the others though some rows can't be read; each is told.")
@options.flag("--sure", help="Count it beside lots that are on hand.")
@options.as_json("the lots")
@click.pass_obj
def opening(
    folder: Path, /, counts: tuple[str, ...], log: Path | None, on_hand: bool, as_json: bool,
    **asked: Any,
) -> None:  # fmt: skip
    """Open lots of old batches, and of stock that was counted.

    Old batches keep the code that hangs in the shops: trace, lot list, ship and reprint know it.
    Stock that is counted, SKU=N in jigs, becomes one lot of each product, not traceable to
    materials. Given again, nothing is opened twice.

    \b
    Examples:
      labeler lot opening --from batches.xlsx
      labeler lot opening RV-38-40-MLN=18 "river vesper dusk 1/2=6"
    """  # noqa: D301
    from labeler.app.opening import Before, open_before
    from labeler.catalog.read import named_count

    counted = [named_count(each) for each in counts]
    if lacking := [name for name, count in counted if count is None]:
        raise click.UsageError(f"how many are here? {lacking[0]}=N")
    if not (counts or log or on_hand):
        raise click.UsageError("give what is on hand as SKU=N, a log with --from, or --on-hand")
    before = Before(folder, log, tuple((name, n or 0) for name, n in counted), on_hand, **asked)
    done = open_before(before, None if as_json else words.agree)
    if as_json:
        words.echo_json(_record(done))
        return
    for lot in done.lots:
        words.say(line_of(lot, lot.code in done.again))
    if not done.lots:
        click.echo("Nothing is opened: all of it is on record already.")


def line_of(lot: Lot, again: bool) -> str:
    """Return what a lot is in one sentence, and whether it was opened before."""
    went_in = f", with {', '.join(str(each) for each in lot.materials)}" if lot.materials else ""
    before = " It was opened before; the request was only given again." if again else ""
    called = f", called {', '.join(lot.other_names)}" if lot.other_names else ""
    made = f"counted {lot.made}, not traceable to materials" if lot.untraced else f"made {lot.made}"
    return (
        f"Lot {lot.code}{called}: {plural(lot.count, 'jig')} of {lot.sku}, {lot.name}, "
        f"{made}{went_in}.{before}"
    )


def _record(done: Assigned) -> dict[str, Any]:
    return {
        "done": True,
        "lots": [as_record(lot) | {"again": lot.code in done.again} for lot in done.lots],
        "findings": done.findings,
    }


def as_record(lot: Lot) -> dict[str, Any]:
    """Return a lot as plain values; times in UTC."""
    return {
        "lot": lot.code,
        "sku": lot.sku,
        "name": lot.name,
        "count": lot.count,
        "made": lot.made,
        "materials": [str(each) for each in lot.materials],
        "note": lot.note,
        "opened_at": lot.opened_at.astimezone(dt.UTC),
        "opened_by": lot.opened_by,
        "void": lot.void.why if lot.void else None,
        "held": lot.held.why if lot.held else None,
        "other_names": lot.other_names,
        "untraced": lot.untraced,
    }


_LAST = 40


@lot.command()
@click.argument("code", metavar="[LOT]", required=False)
@click.option("--since", metavar="DATE", type=options.day, help="From this day on.")
@click.option("--last", metavar="N", type=click.IntRange(min=1),
              help=f"The newest N; left out, {_LAST}, or all of a lot or since a day.")  # fmt: skip
@options.as_json("the journal")
@click.pass_obj
def journal(
    folder: Path, /, code: str | None, since: dt.date | None, last: int | None, as_json: bool
) -> None:
    """Show every change to the ledger: when, by whom, what.

    Nothing in it is ever altered or deleted. Times are the bench's, and in UTC.

    \b
    Examples:
      labeler lot journal
      labeler lot journal 263290013
      labeler lot journal --since 2026-11-01
    """  # noqa: D301
    from labeler.app.lots import journal_of

    most = last or (None if code or since else _LAST)
    found, location = journal_of(folder, code or "", since, most)
    if as_json:
        words.echo_json({"journal": [entry_as_record(each) | {"lot": each.lot} for each in found]})
        return
    words.echo_table(
        ("when", "who", "what", "lot", ""),
        [(location.clock(each.at), each.who, each.what, each.lot, detail(each)) for each in found],
    )
    if most and len(found) == most:
        click.echo(f"The newest {most}; --last or --since shows more.")


def entry_as_record(entry: JournalEntry) -> dict[str, Any]:
    """Return a change as plain values; times in UTC."""
    return {"at": entry.at, "who": entry.who, "what": entry.what, "detail": entry.detail}


def detail(entry: JournalEntry) -> str:
    """Return what a change was in particular, in one line."""
    return ", ".join(f"{key} {_plain(value)}" for key, value in entry.detail.items() if value)


def _plain(value: Any) -> str:
    return " ".join(str(one) for one in value) if isinstance(value, list) else str(value)


@lot.command("list")
@click.argument("code", metavar="[LOT]", required=False)
@click.option("--sku", default="", metavar="SKU",
              help="One product's lots only, by its SKU or its words.")  # fmt: skip
@click.option("--since", metavar="DATE", type=options.day, help="Made on this day or later.")
@click.option("--until", metavar="DATE", type=options.day, help="Made on this day or before.")
@options.as_json("the lots")
@click.pass_obj
def list_(
    folder: Path, /, code: str | None, sku: str, since: dt.date | None, until: dt.date | None,
    as_json: bool,
) -> None:  # fmt: skip
    """List the lots and what is on hand; or tell everything about one.

    \b
    Examples:
      labeler lot list --since 2026-11-01
      labeler lot list 263290013
    """  # noqa: D301
    from labeler.app.lots import lots_of, story_of

    if code is not None:
        if sku or since or until:
            product = f'. If they are one product: --sku "{sku} {code}"' if sku else ""
            raise click.UsageError(
                f"one lot is one lot: leave --sku, --since and --until out{product}"
            )
        story = story_of(folder, code)
        if as_json:
            words.echo_json(_story_record(story))
        else:
            _echo_story(story)
        return
    said: list[Finding] = []
    lines, location = lots_of(folder, sku=sku, since=since, until=until, said=said)
    words.echo_findings(said)
    if as_json:
        words.echo_json({"lots": [_line_record(line) for line in lines]})
    elif lines:
        _echo_lines(lines, location)
    elif location.begun:
        click.echo("No lot answers to this.")
    else:
        click.echo(
            "No lot has been opened yet. Open the first with: labeler lot assign SKU --count N"
        )


def _echo_lines(lines: tuple[LotLine, ...], location: LedgerLocation) -> None:
    words.echo_table(
        ("lot", "made", "SKU", "product", "jigs", "on hand", "shipped", "opened", ""),
        [
            (
                line.lot.code, line.lot.made.isoformat(), line.lot.sku, line.lot.name,
                line.lot.count, line.story.on_hand, line.story.shipped,
                location.clock(line.lot.opened_at), _state(line.lot),
            )
            for line in lines
        ],
    )  # fmt: skip
    click.echo(plural(len(lines), "lot"))


def _state(lot: Lot) -> str:
    called = [f"called {', '.join(lot.other_names)}"] if lot.other_names else []
    called += ["not traceable to materials"] if lot.untraced else []
    barred = ["void"] if lot.void else [f"held: {lot.held.why}"] if lot.held else []
    return "; ".join((*barred, *called))


def _line_record(line: LotLine) -> dict[str, Any]:
    story = line.story
    counts = {"on_hand": story.on_hand, "shipped": story.shipped, "labels": story.labels}
    return as_record(line.lot) | counts | {"cards": story.cards}


def _echo_story(whole: LotStory) -> None:
    words.say(f"Lot {whole.lot.code} of {whole.lot.sku}, {whole.lot.name}")
    for fact in _facts(whole):
        words.say(f"  {fact}")
    words.echo_table(
        ("when", "who", "what", ""),
        [(whole.location.clock(each.at), each.who, each.what, detail(each))
         for each in whole.journal],
    )  # fmt: skip


def _facts(whole: LotStory) -> Iterator[str]:
    """Yield what is known of a lot, a line each."""
    lot, story, clock = whole.lot, whole.story, whole.location.clock
    yield f"made {lot.made}, {plural(lot.count, 'jig')}; {story.on_hand} on hand"
    if lot.void:
        yield f"void since {clock(lot.void.at)}: {lot.void.why}"
    if lot.held:
        yield f"held since {clock(lot.held.at)}: {lot.held.why}"
    if lot.other_names:
        yield f"also called {', '.join(lot.other_names)}"
    if lot.untraced:
        yield "counted as stock: not traceable to materials"
    if story.gone:
        yield f"{story.gone} went before there was a record, nobody knows to whom"
    yield from (f"{each.kind}: {each.lot}" for each in lot.materials)
    yield from (f"{each.count} with {each.dealer}" for each in story.dealers)
    yield from (f"weighed {clock(each.at)}: {each.judgement.verdict}" for each in whole.weigh_ins)
    yield from (_run(run, whole.location) for run in whole.runs)
    if lot.note:
        yield f"note: {lot.note}"


def _run(run: PastRun, location: LedgerLocation) -> str:
    printer = f" on {run.printer}" if run.printer else ""
    pieces = plural(run.count, _PIECES[run.kind])
    when = location.clock(run.at)
    state = "" if run.state == "printed" else f" ({run.state}, not counted)"
    return f"run {run.run}, {when}: {pieces}, layout {run.layout}, {run.stock}{printer}{state}"


_PIECES = {"bag": "bag label", "card": "card-back", "batch card": "batch card"}


def _story_record(whole: LotStory) -> dict[str, Any]:
    return as_record(whole.lot) | {
        "on_hand": whole.story.on_hand,
        "dealers": [{"dealer": d.dealer, "count": d.count} for d in whole.story.dealers],
        "labels": whole.story.labels,
        "cards": whole.story.cards,
        "weigh_ins": [
            {"at": each.at, "weights": [str(w) for w in each.weights],
             "verdict": each.judgement.verdict}
            for each in whole.weigh_ins
        ],
        "runs": [
            {"run": run.run, "at": run.at, "kind": run.kind, "count": run.count,
             "state": run.state, "layout": run.layout, "stock": run.stock,
             "printer": run.printer, "catalog": run.catalog_digest, "pdf": run.pdf,
             "cells": run.spots, "overrides": run.overrides}
            for run in whole.runs
        ],
        "journal": [entry_as_record(each) for each in whole.journal],
    }  # fmt: skip


@lot.command()
@click.argument("code", metavar="LOT")
@click.argument("weights", nargs=-1)
@options.path("--from", "file",
              help="Weights from a spreadsheet (CSV or XLSX), under a heading such as weight, g or"
              " oz.")  # fmt: skip
@click.option("--unit", type=click.Choice(["g", "oz"]), default="g", show_default=True,
              help="The unit of a number that stands without one.")  # fmt: skip
@options.flag("--sure", help="Take weights that look like a slip as they are.")
@options.flag("--again", help="Begin the sample again; --why says why.")
@click.option("--why", default="", metavar="TEXT", help="Why the sample is begun again.")
@options.flag("--close", help="Add nothing to the sample after this.")
@options.key("it is not kept twice")
@options.as_json("the judgement")
@click.pass_obj
def weigh(
    folder: Path, /, code: str, weights: tuple[str, ...], file: Path | None, as_json: bool,
    **asked: Any,
) -> int:  # fmt: skip
    """Judge a lot by the weights of a sample, and keep them.

    All weights of a lot are one sample that grows, until it is closed or begun again. Without any
    weight it says how many to weigh. A lot that fails is held; exit status 1. A head's nominal
    weight is no statement of net contents, and this is no official inspection.

    \b
    Examples:
      labeler lot weigh 263290013
      labeler lot weigh 263290013 10.4 10.7 10.6 10.5 10.8 10.6 10.7 10.5 10.6 10.4 10.6 10.7
      labeler lot weigh 263290013 --from scale.csv --unit oz
    """  # noqa: D301
    from labeler.app.lots import WeighRequest, weigh_lot

    why = asked.pop("why")
    if asked.pop("again") != bool(why.strip()):
        raise click.UsageError("--again and --why TEXT go together")
    if not weights and file is None and not asked["close"]:
        _echo_sample(folder, code, as_json)
        return 0
    kept, lot = weigh_lot(WeighRequest(folder, code, weights, file, again=why, **asked))
    judgement = kept.judgement
    said = judgement.sentences(str(kept.label))
    if as_json:
        record = judgement.as_json() | {"verdict": judgement.verdict}
        words.echo_json({"done": True, "lot": lot.code, "sku": lot.sku, **record,
                         "closed": kept.closed, "held": as_record(lot)["held"],
                         "said": said})  # fmt: skip
    else:
        click.echo(f"Lot {lot.code} of {lot.sku}")
        click.echo(said)
        if lot.held:
            words.say(
                f"It is held: {lot.held.why}.\n"
                f"labeler lot release {lot.code} --why TEXT releases it."
            )
        click.echo("In the words of NIST Handbook 133:")
        for name, value in _figures(judgement):
            click.echo(f"  {name:<34}{value}")
    return 1 if judgement.verdict == "fail" else 0


def _figures(judgement: Any) -> list[tuple[str, str]]:
    """Return what was calculated, by the names of NIST Handbook 133."""

    def grams(value: float | None) -> str:
        return "-" if value is None else f"{value:.3f} g"

    return [
        ("labeled weight", grams(judgement.label)),
        ("inspection lot size", f"{judgement.lot_size:,}"),
        ("sample size", f"{judgement.sample} of {judgement.sample_asked} asked for"),
        ("average", grams(judgement.mean)),
        ("average error", grams(judgement.mean_error)),
        ("sample standard deviation", grams(judgement.deviation)),
        ("sample correction factor", "-" if judgement.factor is None else f"{judgement.factor:g}"),
        ("sample error limit (SEL)", grams(judgement.error_limit)),
        ("maximum allowable variation (MAV)", grams(judgement.allowed_variation)),
        ("below the MAV", f"{len(judgement.beyond)}, {judgement.may_exceed or 'none'} may be"),
    ]


def _echo_sample(folder: Path, code: str, as_json: bool) -> None:
    from labeler.app.lots import sample_of

    asked = sample_of(folder, code)
    grams = f"{float(asked.label.grams):.2f} g"
    if as_json:
        words.echo_json({"lot": asked.lot.code, "lot_size": asked.lot.count,
                         "sample": asked.sample, "label": float(asked.label.grams)})  # fmt: skip
        return
    click.echo(
        f"Weigh {asked.sample} of the {plural(asked.lot.count, 'jig')} of lot "
        f"{asked.lot.code}, taken at random; each should weigh {asked.label} ({grams})."
    )


@lot.command()
@click.argument("names", metavar="LOT ... | SKU=N ...", nargs=-1, required=True)
@options.out
@options.paper("Left out, what is usual in the maker's country.")
@click.option("--ink", type=click.Choice(["colour", "black"]), default="colour",
              show_default=True, help="In colour, or in pure black.")  # fmt: skip
@options.as_json("the result")
@click.pass_obj
def card(
    folder: Path, /, names: tuple[str, ...], out: Path, paper: str | None, as_json: bool,
    ink: InkMode,
) -> None:  # fmt: skip
    """Write the batch card that goes with a lot from pot to peg.

    What to pull and open, what it is tied with, the materials' lots, boxes to weigh and to sign.
    A SKU, or the words of a product, with =N makes the card of what is still to be tied: no lot is
    opened yet, and its code, day and materials are left open to write in.

    \b
    Examples:
      labeler lot card 263290013 --out card.pdf
      labeler lot card RV-38-40-MLN=12 "river vesper dusk 1/2=24" --out week.pdf
    """  # noqa: D301
    from labeler.app.papers import print_batch_cards, print_bench_cards
    from labeler.catalog.read import named_count

    counted = [named_count(each) for each in names]
    wanted = [(name, count) for name, count in counted if count is not None]
    if not wanted:
        made = print_batch_cards(folder, names, out, paper or "", ink)
        lots = [lot.code for lot in made.lots]
        if as_json:
            record = {"file": made.out, "lots": lots, "paper": made.paper, "run": made.run}
            words.echo_json({"done": True, "lot": lots[0] if len(lots) == 1 else None} | record)
            return
        cards = "the batch card of lot" if len(lots) == 1 else "the batch cards of lots"
        click.echo(f"{made.out}: {cards} {', '.join(lots)}, on {made.paper}.")
        return
    if len(wanted) < len(names):
        raise click.UsageError("either lots that are open, or products to be tied, each with =N")
    to_tie = print_bench_cards(folder, wanted, out, paper or "", ink)
    if as_json:
        products = [{"sku": each.sku, "count": count} for each, count in to_tie.products]
        record = {"file": to_tie.out, "products": products, "paper": to_tie.paper}
        words.echo_json({"done": True} | record)
        return
    words.echo_findings(to_tie.findings)
    click.echo(f"{to_tie.out}: {plural(len(to_tie.products), 'card')}, on {to_tie.paper}.")
    for product, count in to_tie.products:
        name = f"{count:,} of {product.sku}, {product.name}"
        words.say(f"  {name}")
    click.echo("No lot is opened yet. Say what was tied, and lots and labels are made: "
               "labeler tied")  # fmt: skip


@lot.command()
@click.argument("code", metavar="LOT")
@click.argument("materials", metavar="KIND=SUPPLIER-LOT ...", nargs=-1, required=True)
@click.option("--instead", metavar="KIND=SUPPLIER-LOT",
              help="What was noted by mistake: struck out, and no longer traced.")  # fmt: skip
@options.as_json("the lot")
@click.pass_obj
def add(
    folder: Path, /, code: str, materials: tuple[str, ...], instead: str | None, as_json: bool
) -> None:
    """Note what else went into a lot, or correct it.

    What the batch card left blank, so that a trace finds it. What is struck out stays in the
    journal.

    \b
    Examples:
      labeler lot add 263290013 hook=HK-2291 glue=G-7
      labeler lot add 263290013 hook=HK-2291 --instead hook=HK-2219
    """  # noqa: D301
    from labeler.app.open_lots import add_to_lot

    changed = add_to_lot(folder, code, materials, instead, None if as_json else words.agree)
    if as_json:
        words.echo_json({"done": True} | as_record(changed))
        return
    went_in = ", ".join(str(each) for each in changed.materials)
    words.say(f"Lot {changed.code} of {changed.sku}, with {went_in}.")


@lot.command()
@click.argument("code", metavar="LOT")
@click.option(
    "--why",
    required=True,
    metavar="TEXT",
    help="The reason; it stays in the ledger, and no page or label shows it.",
)
@options.as_json("the result")
@click.pass_obj
def void(folder: Path, /, code: str, why: str, as_json: bool) -> None:
    """Withdraw a lot code that was given out by mistake.

    Nothing is deleted, and the code is never given out again.

    \b
    Example:
      labeler lot void 263290013 --why "counted wrong, poured again"
    """  # noqa: D301
    from labeler.app.lots import void_lot

    gone, location = void_lot(folder, code, why)
    assert gone.void is not None
    if as_json:
        record = {"lot": gone.code, "why": gone.void.why, "at": gone.void.at}
        words.echo_json({"done": True, **record})
        return
    words.say(
        f"Lot {gone.code} of {gone.sku} is void since {location.clock(gone.void.at)}: "
        f"{gone.void.why}"
    )


@lot.command("hold")
@click.argument("code", metavar="LOT")
@click.option("--why", required=True, metavar="TEXT", help="The reason; it stays in the ledger.")
@options.as_json("the lot")
@click.pass_obj
def hold_(folder: Path, /, code: str, why: str, as_json: bool) -> None:
    """Hold a lot: no labels of it, and no shipments.

    So it stays until it is released. What is on hand of it does not count as ready, and what comes
    back can be booked. A lot that fails its weigh-in is held by itself.

    \b
    Example:
      labeler lot hold 263290013 --why "hooks of box HK-2291 break"
    """  # noqa: D301
    from labeler.app.lots import hold_lot

    _echo_barred(*hold_lot(folder, code, why), as_json)


@lot.command()
@click.argument("code", metavar="LOT")
@click.option("--why", required=True, metavar="TEXT", help="The reason; it stays in the ledger.")
@options.as_json("the lot")
@click.pass_obj
def release(folder: Path, /, code: str, why: str, as_json: bool) -> None:
    """Let a held lot be labelled and shipped again.

    \b
    Example:
      labeler lot release 263290013 --why "every hook pulled with 5 kg, none broke"
    """  # noqa: D301
    from labeler.app.lots import release_lot

    _echo_barred(*release_lot(folder, code, why), as_json)


def _echo_barred(lot: Lot, location: LedgerLocation, as_json: bool) -> None:
    if as_json:
        words.echo_json({"done": True} | as_record(lot))
    elif lot.held:
        since = location.clock(lot.held.at)
        words.say(
            f"Lot {lot.code} of {lot.sku} is held since {since}: {lot.held.why}\n"
            "No label of it is printed and none of it is shipped until it is released. Who has "
            f"some of it: labeler trace {lot.code}"
        )
    else:
        click.echo(f"Lot {lot.code} of {lot.sku} is not held: it may be labelled and shipped.")


@lot.command()
@click.argument("file", type=options.PATH)
@options.as_json("the result")
@click.pass_obj
def backup(folder: Path, /, file: Path, as_json: bool) -> None:
    """Copy the ledger, whole, even while others write to it.

    Put the copy where a broken disk can't take both. An older backup of that name is replaced.

    To go back to it, while no command runs: move ledger.sqlite and ledger.sqlite-wal away from
    the catalog folder, but keep them; put the copy there as ledger.sqlite; then tell "lot lost"
    the lot codes that were given out since, and the numbers of orders, invoices and slips.

    \b
    Example:
      labeler lot backup /media/stick/ledger-2026-11.sqlite
    """  # noqa: D301
    from labeler.app.lots import back_up

    written = back_up(folder, file)
    if as_json:
        words.echo_json({"done": True, "file": written})
        return
    click.echo(f"{written}: the whole ledger, and it is sound.")
    click.echo("How to go back to it: labeler lot backup --help")


@lot.command()
@options.as_json("the result")
@click.pass_obj
def begin(folder: Path, /, as_json: bool) -> None:
    """Begin the ledger that LABELER_LEDGER names, once.

    In the catalog folder the first lot begins it. A folder that is named may be a share that is
    not connected: nothing is begun in it unless you say so, or codes would be given out twice.

    \b
    Example:
      export LABELER_LEDGER=/media/bench
      labeler lot begin
    """  # noqa: D301
    from labeler.app.workstation import ledger_location

    where, new = ledger_location(folder).begin()
    if as_json:
        words.echo_json({"done": True, "ledger": where, "begun": new})
        return
    click.echo(f"{where}: {'a new ledger was begun' if new else 'the ledger is here'}.")


@lot.command()
@click.argument("codes", metavar="LOT|ORDER|INVOICE|SLIP ...", nargs=-1, required=True)
@options.as_json("the result")
@click.pass_obj
def lost(folder: Path, /, codes: tuple[str, ...], as_json: bool) -> None:
    """Note codes and numbers that are out and not on record.

    After an older backup was put back, the lots, orders, invoices and slips since are lost, but
    their labels and papers are out. What is noted here, and every lower number of its day or year,
    is never given out again: look for the highest order, the highest invoice and the highest slip.

    \b
    Example:
      labeler lot lost 263290048 263300011
      labeler lot lost 2600042 26000174 2026-0183
    """  # noqa: D301
    from labeler.app.lots import lose

    noted = lose(folder, codes)
    if as_json:
        words.echo_json({"done": True, "lots": noted.codes, "numbers": [
            {"of": kind, "number": number, "next": after} for kind, number, after in noted.numbers
        ]})  # fmt: skip
        return
    every = ", ".join((*noted.codes, *(number for _, number, _ in noted.numbers)))
    words.say(f"Never given out again: {every}")
    for kind, after in dict.fromkeys((kind, after) for kind, _, after in noted.numbers):
        year = after[:4] if kind == "slip" else f"20{after[:2]}"
        click.echo(f"The next {kind} of {year} gets number {after}.")
