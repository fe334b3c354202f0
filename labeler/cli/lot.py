"""``labeler lot``: a group of verbs, of which the long ones stand in files of their own."""

from __future__ import annotations

from pathlib import Path

import click

from labeler.cli import words
from labeler.cli.lot_assign import as_record, assign
from labeler.cli.lot_journal import journal
from labeler.cli.lot_list import list_
from labeler.cli.lot_weigh import weigh


@click.group()
def lot() -> None:
    """Lots: a code for every batch, and what went into it.

    \b
    Example:
      labeler lot assign RV-38-40-MLN --count 60 --material hook=HK-2291
      labeler lot card 263290013 --out card.pdf
      labeler bags --lot 263290013 --out bags.pdf
    """  # noqa: D301


lot.add_command(assign)
lot.add_command(list_)
lot.add_command(journal)
lot.add_command(weigh)


@lot.command()
@click.argument("code", metavar="LOT")
@click.option("--out", required=True, metavar="FILE", type=click.Path(path_type=Path),
              help="The PDF to write. It appears whole or not at all.")  # fmt: skip
@click.option("--paper", type=click.Choice(["letter", "a4"]),
              help="Left out, what is usual in the maker's country.")  # fmt: skip
@click.option("--ink", type=click.Choice(["colour", "black"]), default="colour",
              show_default=True, help="In colour, or in pure black.")  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Tell the result as JSON.")
@click.pass_obj
def card(folder: Path, /, code: str, out: Path, paper: str | None, ink: str, as_json: bool) -> None:
    """Write the batch card that goes with a lot from pot to peg.

    What to pull and open, what it is tied with, the materials' lots, boxes to weigh and to sign.

    \b
    Example:
      labeler lot card 263290013 --out card.pdf
    """  # noqa: D301
    from labeler.bench.batch_cards import CardWish, print_batch_card

    made = print_batch_card(CardWish(folder, code, out, paper or "", ink))  # type: ignore[arg-type]
    if as_json:
        record = {"file": str(made.out), "lot": made.lot.code, "paper": made.paper, "run": made.run}
        words.tell_json({"done": True, **record})
        return
    click.echo(f"{made.out}: the batch card of lot {made.lot.code}, on {made.paper}.")


@lot.command()
@click.argument("code", metavar="LOT")
@click.argument("materials", metavar="KIND=SUPPLIER-LOT ...", nargs=-1, required=True)
@click.option("--json", "as_json", is_flag=True, help="Tell the lot as JSON.")
@click.pass_obj
def add(folder: Path, /, code: str, materials: tuple[str, ...], as_json: bool) -> None:
    """Note what else went into a lot once it is open.

    What the batch card left blank, so that a trace finds it. Nothing noted is ever taken away.

    \b
    Example:
      labeler lot add 263290013 hook=HK-2291 glue=G-7
    """  # noqa: D301
    from labeler.bench.lots import add_to_lot

    told = add_to_lot(folder, code, materials)
    if as_json:
        words.tell_json({"done": True} | as_record(told))
        return
    went_in = ", ".join(str(each) for each in told.materials)
    click.echo(words.harmless(f"Lot {told.code} of {told.sku}, with {went_in}."))


@lot.command()
@click.argument("code", metavar="LOT")
@click.option("--why", required=True, metavar="TEXT", help="The reason; it stays in the ledger.")
@click.option("--json", "as_json", is_flag=True, help="Tell the result as JSON.")
@click.pass_obj
def void(folder: Path, /, code: str, why: str, as_json: bool) -> None:
    """Withdraw a lot code that was given out by mistake.

    Nothing is deleted, and the code is never given out again.

    \b
    Example:
      labeler lot void 263290013 --why "counted wrong, poured again"
    """  # noqa: D301
    from labeler.bench.lots import void_lot

    gone, books = void_lot(folder, code, why)
    assert gone.void is not None
    if as_json:
        record = {"lot": gone.code, "why": gone.void.why, "at": gone.void.at.isoformat()}
        words.tell_json({"done": True, **record})
        return
    click.echo(words.harmless(
        f"Lot {gone.code} of {gone.sku} is void since {books.told(gone.void.at)}: {gone.void.why}"
    ))  # fmt: skip


@lot.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Tell the result as JSON.")
@click.pass_obj
def backup(folder: Path, /, file: Path, as_json: bool) -> None:
    """Copy the ledger, whole, even while others write to it.

    Put the copy where a broken disk can't take both. An older backup of that name is replaced.

    To go back to it, while no command runs: move ledger.sqlite and ledger.sqlite-wal away from
    the catalog folder, but keep them; put the copy there as ledger.sqlite; then tell "lot lost"
    the codes that were given out since.

    \b
    Example:
      labeler lot backup /media/stick/ledger-2026-11.sqlite
    """  # noqa: D301
    from labeler.bench.lots import back_up

    written = back_up(folder, file)
    if as_json:
        words.tell_json({"done": True, "file": str(written)})
        return
    click.echo(f"{written}: the whole ledger, and it is sound.")
    click.echo("How to go back to it: labeler lot backup --help")


@lot.command()
@click.argument("codes", metavar="LOT ...", nargs=-1, required=True)
@click.option("--json", "as_json", is_flag=True, help="Tell the result as JSON.")
@click.pass_obj
def lost(folder: Path, /, codes: tuple[str, ...], as_json: bool) -> None:
    """Note codes on bags that the ledger does not know.

    After an older backup was put back, the lots opened since are lost, but their labels hang in
    the shops. A code noted here, and every lower one of its day, is never given out again.

    \b
    Example:
      labeler lot lost 263290048 263300011
    """  # noqa: D301
    from labeler.bench.lots import lose_lots

    noted = lose_lots(folder, codes)
    if as_json:
        words.tell_json({"done": True, "lots": noted})
        return
    click.echo(words.harmless(f"Never given out again: {', '.join(noted)}"))
