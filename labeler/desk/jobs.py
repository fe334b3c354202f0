"""The long work by name: plain values in, one of the program's jobs called, what came of it out.

Each is called in a process of its own with the catalog's folder, the folder for what it makes, what
was asked, and what to tell how far it has come.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

from labeler.app.answers import read_answers
from labeler.app.dropped import bring_in, sheet_digest
from labeler.app.lots import trace_to_lots
from labeler.app.papers import print_batch_cards
from labeler.app.take_in import Own
from labeler.app.tied import TiedRequest, tie
from labeler.checker.subject import Progress
from labeler.desk.outcome import Asked, Outcome, is_count, plain
from labeler.desk.pages import print_jobs, shop_jobs
from labeler.findings import Finding, Place, plural, refusal


def batch_cards(folder: Path, out: Path, asked: Asked, progress: Progress) -> Outcome:
    """Print the batch cards of lots.

    Args:
        folder: the catalog's.
        out: where the file goes.
        asked: ``lots``, their codes.
        progress: is not told: a card is a page.
    """
    codes = [str(code) for code in asked["lots"]]
    made = print_batch_cards(folder, codes, out / f"cards-{plain(codes[0])}.pdf")
    cards = "Batch card" if len(codes) == 1 else "Batch cards"
    lots = ", ".join(lot.code for lot in made.lots)
    return Outcome((f"{cards} of {lots}, on {made.paper} paper.",), ((cards, made.out),))


def recall_sheet(folder: Path, out: Path, asked: Asked, progress: Progress) -> Outcome:
    """Print whom to call and what to look for.

    Args:
        folder: the catalog's.
        out: where the file goes.
        asked: ``text``, what is in hand; ``why`` it is called back.
        progress: is not told: the sheet is a page or two.
    """
    file = out / f"recall-{plain(str(asked['text']))}.pdf"
    found, said = trace_to_lots(
        folder, str(asked["text"]), sheet=file, why=str(asked.get("why", ""))
    )
    lots = plural(len(found.stories), "lot")
    return Outcome((f"{'; '.join(found.meanings)}: {lots}.",), (("Recall sheet", file),), said)


def tied(folder: Path, out: Path, asked: Asked, progress: Progress) -> Outcome:
    """Open lots of what was tied, and print their batch cards and bag labels: all or nothing.

    Args:
        folder: the catalog's.
        out: where the files go.
        asked: as `tied_request` reads it.
        progress: hears of each page, drawn and then checked.
    """
    done = tie(tied_request(folder, out, asked), progress)
    said = [f"{len(done.lots)} {'lot was' if len(done.lots) == 1 else 'lots were'} opened."]
    files = [("Batch cards", done.cards)]
    findings: tuple[Finding, ...] = ()
    if done.again:
        said = ["All this was said before, and nothing is opened twice. If it is another batch, "
                "go back to what was filled in and tick that it is."]  # fmt: skip
    if (run := done.labels) is not None:
        labels = plural(run.pieces, "label")
        sheets = plural(run.sheets, "sheet")
        said.append(f"{labels} on {sheets} {run.sheet}, from cell {run.start} on.")
        files.insert(0, ("Bag labels", run.out))
        findings = run.findings
    leads = tuple(
        (f"Lot {lot.code}: {lot.count:,} of {lot.sku}, {lot.name}", f"/lots/{lot.code}")
        for lot in done.lots
    )
    return Outcome(tuple(said), tuple(files), findings, leads)


def tied_request(folder: Path, out: Path, asked: Asked) -> TiedRequest:
    """Return what was tied as the command line would ask it.

    Args:
        folder: the catalog's.
        out: where the files go.
        asked: ``counts``, of each SKU; ``materials``, as ``KIND=LOT``; ``note``; ``made``, as
            ISO 8601 writes a day; ``sheet``, ``start``, ``spoiled``, ``spare``, ``printer`` and
            ``ink`` as the command takes them; ``sure``.
    """
    start, made = str(asked["start"]).strip().lower(), str(asked.get("made", ""))
    return TiedRequest(
        folder, tuple(f"{sku} = {count}" for sku, count in asked["counts"].items()),
        made=dt.date.fromisoformat(made) if made else None,
        materials=tuple(asked["materials"]), note=str(asked["note"]), sure=bool(asked["sure"]),
        into=out, sheet=str(asked["sheet"]), start=int(start) if is_count(start) else "next",
        spoiled=str(asked["spoiled"]), printer=str(asked.get("printer", "")),
        spare=int(asked["spare"]), ink=print_jobs.ink_of(asked),
    )  # fmt: skip


def taken_in(folder: Path, out: Path, asked: Asked, progress: Progress) -> Outcome:
    """Make a line of a long spreadsheet, or take in what is new in it.

    Args:
        folder: the catalog's.
        out: gets nothing.
        asked: ``sheet``, the spreadsheet from the folder, with the SHA-256 of what was looked at;
            ``instead``, whether it is a new version;
            ``columns``, ``sheet_name`` and ``unit`` as chosen; ``answers``, as they were typed;
            ``shows``, photos and what each shows; ``day``, of today at the bench.
        progress: is not told: the photos are here already.
    """
    own = Own(folder / asked["sheet"], columns=asked["columns"], sheet_name=asked["sheet_name"],
              unit=str(asked.get("unit", "")), at_home=True,
              instead=bool(asked["instead"]))  # fmt: skip
    if asked.get("digest") not in (None, sheet_digest(own.sheet)):
        raise refusal(
            "changed-since-look", Place(file=own.sheet.name), "the spreadsheet was changed since "
            "it was looked at, and nothing was taken in",
            hint="See on the page Take-in how it is read now, and send it again.",
        )  # fmt: skip
    shows = {name: (look[0], look[1]) for name, look in asked["shows"].items()}
    day = dt.date.fromisoformat(asked["day"])
    taken = bring_in(folder, own, read_answers(asked["answers"]), shows, day, progress)
    said = f"{len(taken.products):,} products of {taken.rows:,} rows."
    return Outcome((said,), leads=(("See what was taken in", "/take-in"),))


JOBS: dict[str, Callable[[Path, Path, Asked, Progress], Outcome]] = {
    "batch-cards": batch_cards,
    "recall-sheet": recall_sheet,
    "take-in": taken_in,
    "tied": tied,
    "look": print_jobs.look,
    "print": print_jobs.make,
    "pull-list": shop_jobs.pull_list,
    "cards-to-tie": shop_jobs.cards_to_tie,
    "ship-order": shop_jobs.ship_an_order,
    "parcel-papers": shop_jobs.parcel_papers,
    "ship-lots": shop_jobs.ship_lots,
    "book": shop_jobs.book,
    "order-form": shop_jobs.order_form,
    "wall-sheet": shop_jobs.wall_sheet,
    "send": print_jobs.send,
}
