"""``labeler order`` and ``labeler orders``."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from labeler.cli import options, words
from labeler.findings import plural

if TYPE_CHECKING:
    from labeler.app.orders import OrderStory, TakenOrder
    from labeler.book.order import Order, OrderLine
    from labeler.ledger.orders import KeptOrder
from labeler.ledger.promises import Portion

_LONGEST_HEAD = 400
"""Letters shown of one field; a longer note is read on the form."""


@click.command()
@click.argument("given", metavar="FILE | SKU=PACKS ...", nargs=-1)
@click.option("--dealer", default="", metavar="NAME",
              help="Who orders, if not the one who stands on the form.")  # fmt: skip
@click.option("--customer", default="", metavar="NAME",
              help="A customer of your own orders, at retail prices.")  # fmt: skip
@click.option("--tier", default="", metavar="NAME", help="The price tier, if not the dealer's own.")
@click.option("--reference", default="", metavar="TEXT", help="Their own number of the order.")
@click.option("--ship-to", default="", metavar="TEXT",
              help='Where it goes: "12 Elm Street, Alder Ferry, WI 54899".')  # fmt: skip
@options.note
@options.flag("--look", help="Only look: nothing is put on record.")
@click.option("--instead", default="", metavar="ORDER",
              help="This is how that order reads now that it is corrected.")  # fmt: skip
@options.flag("--again", help="It is one more order, though one on record looks like it.")
@options.key("it is the same order")
@click.option("--cancel", metavar="ORDER", help="Let go of what is open of this order.")
@click.option("--why", default="", metavar="TEXT", help="Why it is cancelled.")
@options.as_json("the order")
@click.pass_obj
def order(folder: Path, /, given: tuple[str, ...], as_json: bool, **asked: Any) -> None:
    """Put an order on record: what it comes to, what can go today, what is short.

    FILE is the PDF form of the dealer catalog, filled in any viewer, or its spreadsheet. The same
    file is one order, however often it is given. An order by telephone is typed: SKUs, or the words
    of products, with packs. Orders that came first are served first: what is promised to them is
    not counted as ready.

    \b
    Examples:
      labeler order from-the-landing.pdf
      labeler order from-the-landing.pdf --look
      labeler order RV-38-40-MLN=6 "reedmace delft 1/4"=12 --dealer odd-pail
      labeler order RV-38-40-MLN=2 --customer Ada --ship-to "12 Elm Street, Alder Ferry, WI 54899"
      labeler order --cancel 2600018 --why "the shop closed"
    """  # noqa: D301
    if asked["cancel"] is not None:
        _cancel(folder, given, asked, as_json)
        return
    if asked["why"]:
        raise click.UsageError("--why tells why an order is cancelled: give --cancel ORDER too")
    from labeler.app.orders import keep_order_of, look_at_order

    request = _request(folder, given, asked)
    if asked["look"]:
        if idle := [name for name in ("instead", "again", "key") if asked[name]]:
            raise click.UsageError(f"--look puts nothing on record, so leave --{idle[0]} out")
        taken = look_at_order(request)
    else:
        taken = keep_order_of(request)
    if as_json:
        words.echo_json(_record(taken))
    else:
        _echo(folder, taken)


def _request(folder: Path, given: tuple[str, ...], asked: dict[str, Any]) -> Any:
    from labeler.app.orders import OrderRequest
    from labeler.catalog.read import named_count

    names = ("dealer", "customer", "tier", "reference", "ship_to", "note", "instead", "again",
             "key")  # fmt: skip
    if asked["dealer"] and asked["customer"]:
        raise click.UsageError("an order is a dealer's or a customer's: give one of the two")
    rest = {name: asked[name] for name in names}
    if not any(map(str.strip, given)):
        raise click.UsageError(
            "what is ordered? Give the filled form's FILE, or SKUs with packs: RV-38-40-MLN=6"
        )
    if len(given) == 1 and Path(given[0]).is_file():
        return OrderRequest(folder, Path(given[0]), **rest)
    lines = [named_count(text) for text in given]
    if len(lines) == 1 and lines[0][1] is None:
        return OrderRequest(folder, Path(given[0]), **rest)
    if bare := [name for name, packs in lines if packs is None]:
        raise click.UsageError(
            f"how many packs of {bare[0]}? {shlex.quote(f'{bare[0]}=6')}; and one file is read at "
            "a time"
        )
    return OrderRequest(folder, lines=tuple((name, packs or 0) for name, packs in lines), **rest)


def _cancel(folder: Path, given: tuple[str, ...], asked: dict[str, Any], as_json: bool) -> None:
    if given or any(asked[name] for name in asked if name not in ("cancel", "why")):
        raise click.UsageError("--cancel ORDER takes nothing beside it but --why TEXT")
    if not asked["why"]:
        raise click.UsageError('say why, for whoever asks later: --why "the shop closed"')
    from labeler.app.orders import cancel_order_of

    kept, before = cancel_order_of(folder, asked["cancel"], asked["why"])
    if as_json:
        words.echo_json({"done": True, "again": before, "order": _kept(kept)})
        return
    gone = f"; {plural(kept.gone, 'pack')} had gone out and stay so" if kept.gone else ""
    said = "was cancelled before" if before else "is cancelled"
    words.say(f"Order {kept.number} of {kept.dealer} {said}{gone}.")


def _echo(folder: Path, taken: TakenOrder) -> None:
    words.echo_findings(taken.findings)
    kept = taken.kept
    if kept is None:
        _echo_order(taken.order, taken.currency)
        click.echo("Only looked at: nothing was put on record.")
        return
    if taken.state == "new":
        _echo_order(taken.order, taken.currency)
        click.echo(
            f"On record as order {kept.number}. What to pull and to tie: "
            f"labeler orders {kept.number}"
        )
        return
    from labeler.app.orders import stories_of_orders

    if taken.state == "changed":
        click.echo(f"Order {kept.number} reads so from now on; how it read before is kept.")
    else:
        click.echo(f"This is order {kept.number}, on record since {kept.taken}; it is kept once.")
    _echo_story(stories_of_orders(folder, [kept.number])[0])


def _echo_order(taken: Order, currency: str) -> None:
    from labeler.book.order import HEADS, TO_MAKER
    from labeler.layout.facts import amount_text

    who = taken.dealer or "No dealer is named"
    words.say(f"{who}, at {taken.tier.name} prices")
    said = {label: TO_MAKER[key] for key, label in HEADS.items()}
    for label, text in taken.heads.items():
        words.say(f"  {said[label]}: {' '.join(text.split())[:_LONGEST_HEAD]}")
    width = max(len(line.product.sku) for line in taken.lines)
    click.echo(f"{'SKU':<{width}}  packs      price        sum  ready  short")
    for line in taken.lines:
        click.echo(_row(line, width))
    click.echo(f"{plural(taken.packs, 'pack')}, {amount_text(taken.goods, currency)}")
    if taken.tax_on_top:
        click.echo(
            f"Federal excise tax {amount_text(taken.tax, currency)} on top: "
            f"{amount_text(taken.total, currency)}"
        )
    elif taken.tax:
        click.echo(f"Federal excise tax in it: {amount_text(taken.tax, currency)}")
    words.echo_findings(taken.findings, err=False)


def _row(line: OrderLine, width: int) -> str:
    price = "on request" if line.price is None else f"{line.price:,}"
    total = "" if line.sum is None else f"{line.sum:,}"
    ready = f"{line.stock.ready:,}"
    short = f"{line.short:,}" if line.short else ""
    start = f"{line.product.sku:<{width}}  {line.packs:>5,}  {price:>9}  {total:>9}"
    return f"{start}  {ready:>5}  {short:>5}  {line.product.name}".rstrip()


def _record(taken: TakenOrder) -> dict[str, Any]:
    from labeler.book.order import as_record

    record = as_record(taken.order, taken.currency)
    kept = _kept(taken.kept) if taken.kept else None
    return {"done": True, **record, "findings": [*record["findings"], *taken.findings],
            "state": taken.state or "looked at", "order": kept}  # fmt: skip


@click.command()
@click.argument("numbers", metavar="[ORDER ...]", nargs=-1)
@options.flag("--all", "every", help="Those that are done or cancelled too.")
@options.path("--pull", help="Write the pull list to this PDF, a page for each order.")
@options.path("--cards", help="Write the bench cards of all that is still to be tied to this PDF.")
@options.path("--slip", help="Of an invoice's number: write the packing slip once more.")
@options.path("--invoice", help="Of an invoice's number: write the invoice once more.")
@options.path("--address", help="Of an invoice's number: write the address label once more.")
@click.option("--on-sheet", metavar="SHEET", help="A sheet of labels for the address.")
@click.option("--cell", metavar="N", type=click.IntRange(1), help="The cell of it to use.")
@options.paper("Of the papers; left out, what is usual in the maker's country.")
@options.as_json("them")
@click.pass_obj
def orders(
    folder: Path, /, numbers: tuple[str, ...], every: bool, as_json: bool, **asked: Any
) -> None:
    """Show the orders that are open, or all there is to know of the ones that are named.

    Of a named order: what can go today and from which lots, the oldest first; what is still to be
    tied; which labels are still to be printed; what went out. Orders that came first are served
    first.

    \b
    Examples:
      labeler orders
      labeler orders 2600018
      labeler orders --pull pull.pdf --cards cards.pdf
      labeler orders 26000015 --invoice invoice.pdf
    """  # noqa: D301
    if any(asked[name] for name in ("slip", "invoice", "address", "on_sheet", "cell")):
        _print_again(numbers, every, as_json, {"folder": folder, **asked})
        return
    if asked["pull"] or asked["cards"]:
        _print_for_the_bench(numbers, every, as_json, {"folder": folder, **asked})
        return
    if asked["paper"]:
        raise click.UsageError("--paper is that of a paper: --pull, --cards, --slip, --invoice")
    if numbers:
        _show_named(folder, numbers, every, as_json)
        return
    from labeler.app.orders import orders_of

    found, _ = orders_of(folder, every=every)
    if as_json:
        words.echo_json({"orders": [_kept(each) for each in found]})
    elif not found:
        none = "No order is on record" if every else "No order is open"
        click.echo(f"{none}. labeler order FILE puts one on record.")
    else:
        _echo_orders(found)


def _show_named(folder: Path, numbers: tuple[str, ...], every: bool, as_json: bool) -> None:
    from labeler.app.orders import stories_of_orders

    if every:
        raise click.UsageError("--all counts for nothing where orders are named")
    stories = stories_of_orders(folder, numbers)
    if as_json:
        words.echo_json({"orders": [_story(each) for each in stories]})
        return
    for at, story in enumerate(stories):
        if at:
            click.echo()
        _echo_story(story)


def _print_again(
    numbers: tuple[str, ...], every: bool, as_json: bool, asked: dict[str, Any]
) -> None:
    from labeler.cli.ship import papers_asked

    papers = papers_asked(asked)
    if len(numbers) != 1 or every or asked["pull"] or asked["cards"]:
        raise click.UsageError("the papers of one parcel are written at a time: give the number "
                               "of its invoice, and nothing else")  # fmt: skip
    from labeler.app.invoices import print_parcel_papers

    order, invoice = print_parcel_papers(asked["folder"], numbers[0], papers)
    if as_json:
        words.echo_json({"done": True, "order": order.number, "invoice": invoice.number,
                         "files": [str(file) for file in papers.files]})  # fmt: skip
        return
    for file in papers.files:
        click.echo(f"{file}: of parcel {invoice.number}, order {order.number}, as it went out.")


def _print_for_the_bench(
    numbers: tuple[str, ...], every: bool, as_json: bool, asked: dict[str, Any]
) -> None:
    from labeler.app.order_papers import print_cards_to_tie, print_pull_list

    if every:
        raise click.UsageError("--all counts for nothing here: only open orders are pulled")
    folder, paper = asked["folder"], asked["paper"] or ""
    record: dict[str, Any] = {"done": True}
    if asked["pull"] and asked["cards"]:
        from labeler.files import refuse_one_name

        refuse_one_name(asked["pull"], asked["cards"])
    if asked["pull"]:
        stories = print_pull_list(folder, numbers, asked["pull"], paper)
        record |= {"pull": asked["pull"], "orders": [_story(each) for each in stories]}
        if not as_json:
            bags = sum(each.ready for story in stories for each in story.portions)
            click.echo(f"{asked['pull']}: the pull list of {plural(len(stories), 'order')}, "
                       f"{plural(bags, 'bag')}.")  # fmt: skip
    if asked["cards"]:
        made = print_cards_to_tie(folder, numbers, asked["cards"], paper)
        jigs = sum(count for _, count in made.products)
        record |= {
            "cards": asked["cards"],
            "tie": [{"sku": each.sku, "jigs": count} for each, count in made.products],
        }
        if not as_json:
            words.echo_findings(made.findings)
            click.echo(f"{asked['cards']}: {plural(len(made.products), 'card')}, "
                       f"{plural(jigs, 'jig')} to tie.")  # fmt: skip
    if as_json:
        words.echo_json(record)


def _echo_orders(found: Sequence[KeptOrder]) -> None:
    from labeler.layout.facts import amount_text

    words.echo_table(
        ("order", "day", "dealer", "packs", "shipped", "open", "open value", ""),
        [
            (each.number, each.taken.isoformat(), _whom(each), each.packs, each.gone, each.open,
             amount_text(each.value(each.left), each.reading.currency),
             "" if each.state == "open" else each.state)
            for each in found
        ],
    )  # fmt: skip
    total = sum(each.open for each in found)
    click.echo(f"{plural(len(found), 'order')}: {plural(total, 'pack')} open.")


def _whom(order: KeptOrder) -> str:
    return order.dealer if order.whom == "dealer" else f"{order.dealer} ({order.whom})"


def _echo_story(story: OrderStory) -> None:
    order = story.order
    from labeler.layout.facts import amount_text

    state = f"{order.state}: {order.cancelled}" if order.cancelled is not None else order.state
    words.say(f"Order {order.number}, {_whom(order)}, {order.taken}: {state}")
    about = {"Their number": order.reading.reference, "Dated": order.reading.dated,
             "Ship to": " · ".join(order.reading.ship_to.split("\n"))}  # fmt: skip
    for label, text in {**about, **order.reading.heads}.items():
        if text:
            words.say(f"  {label}: {text[:_LONGEST_HEAD]}")
    words.echo_table(
        ("SKU", "packs", "price", "shipped", "ready", "short", "", ""),
        [_portion(order, each) for each in story.portions],
    )
    value = amount_text(order.value(lambda line: line.packs), order.reading.currency)
    click.echo(
        f"{plural(order.packs, 'pack')}, {value} at {order.reading.tier} prices; "
        f"{order.open:,} open"
    )
    _echo_bench(story)
    for each in order.invoices:
        invoice = each.invoice
        back = ", taken back as a mistake" if each.taken_back else ""
        packs = plural(sum(line.packs for line in invoice.lines), "pack")
        total = amount_text(invoice.total, invoice.currency)
        click.echo(f"{invoice.day}: {packs}, invoice {invoice.number}, {total}{back}")


def _portion(order: KeptOrder, each: Portion) -> tuple[object, ...]:
    line = each.line
    why = []
    if each.short and each.promised:
        why.append(f"{each.promised:,} promised to orders that came first")
    if each.short and each.held:
        why.append(f"{each.held:,} held")
    price = "on request" if line.price is None else f"{line.price:,}"
    return (line.sku, line.packs, price, order.shipped(line), each.ready, each.short, line.name,
            "; ".join(why))  # fmt: skip


def _echo_bench(story: OrderStory) -> None:
    """Say what is to be pulled, labeled and tied."""
    pulled = [(code, packs, each) for each in story.portions for code, packs in each.lots]
    if pulled:
        click.echo("Pull, oldest lots first:")
        for code, packs, each in pulled:
            jigs = f" ({packs * each.line.pack:,} jigs)" if each.line.pack > 1 else ""
            click.echo(f"  lot {code}  {packs:>4,}{jigs}  {each.line.sku}  {each.line.name}")
    if story.to_label:
        click.echo("Labels still to print:")
        lots = " ".join(f"--lot {each.lot}={each.labels}" for each in story.to_label)
        click.echo(f"  labeler bags {lots} --out labels.pdf")
    if story.to_tie:
        click.echo("Still to be tied:")
        for each in story.to_tie:
            held = min(each.held, each.short) * each.line.pack
            fewer = f", or fewer by the {held:,} that are held" if held else ""
            click.echo(f"  {each.short * each.line.pack:>4,} jigs{fewer}  {each.line.sku}  "
                       f"{each.line.name}")  # fmt: skip
        click.echo(f"  Cards for the bench: labeler orders {story.order.number} --cards cards.pdf")
        tied = " ".join(f"{each.line.sku}={each.short * each.line.pack}" for each in story.to_tie)
        click.echo(f"  Once it is tied: labeler tied {tied}")
    if pulled:
        click.echo(f"Once it is packed: labeler ship --order {story.order.number}")


def _kept(order: KeptOrder) -> dict[str, Any]:
    return {
        "order": order.number, "day": order.taken, "dealer": order.dealer,
        "whom": order.whom, "state": order.state, "cancelled": order.cancelled,
        "tier": order.reading.tier, "currency": order.reading.currency,
        "reference": order.reading.reference, "ship_to": order.reading.ship_to,
        "packs": order.packs, "shipped": order.gone, "open": order.open,
        "value": order.value(lambda line: line.packs),
        "open_value": order.value(order.left),
        "lines": [
            {"sku": line.sku, "name": line.name, "packs": line.packs, "pack": line.pack,
             "price": line.price,
             "shipped": order.shipped(line), "open": order.left(line)}
            for line in order.reading.lines
        ],
        "invoices": [
            {"invoice": each.invoice.number, "day": each.invoice.day,
             "total": each.invoice.total, "taken_back": each.taken_back}
            for each in order.invoices
        ],
    }  # fmt: skip


def _story(story: OrderStory) -> dict[str, Any]:
    return {
        **_kept(story.order),
        "pull": [
            {"lot": code, "sku": each.line.sku, "packs": packs, "jigs": packs * each.line.pack}
            for each in story.portions for code, packs in each.lots
        ],
        "tie": [
            {"sku": each.line.sku, "packs": each.short, "jigs": each.short * each.line.pack}
            for each in story.to_tie
        ],
        "label": [
            {"lot": each.lot, "sku": each.sku, "labels": each.labels} for each in story.to_label
        ],
    }  # fmt: skip
