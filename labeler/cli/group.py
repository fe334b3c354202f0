"""The command itself: finds the verbs, and is the one place where errors become words.

Verbs are imported when they are called and not before, so that help answers at once.
"""

from __future__ import annotations

import contextlib
import importlib
import os
import re
import sys
import traceback
from collections.abc import Callable, Sequence
from itertools import takewhile
from pathlib import Path

import click

from labeler import __version__
from labeler.findings import Finding, LabelerError, Place, did_you_mean, fix, stop

VERBS = {
    "align": ("printing", "Print the alignment sheet, and keep a printer's profile from it."),
    "bags": ("printing", "Print bag labels on the sheet that is in the printer."),
    "cards": ("printing", "Print card-backs: header cards and insert cards."),
    "catalog": (
        "catalog", "Make the catalog as a book for dealers or buyers, with its order form."
    ),
    "check": ("check", "Check the catalog, or a finished PDF, before ink is spent."),
    "desk": ("desk", "Open the desk: all of this on a page in your browser."),
    "help": ("catalog", "Show a reference: catalog, sheets, layouts, rules or findings."),
    "layouts": ("catalog", "List the layouts and what each carries; show them with your product."),
    "lot": ("lot", "Lots: a code for every batch, its card, its weigh-in, what is on hand."),
    "markets": ("check", "Show what may be sold where, and by which rule not."),
    "new": ("catalog", "Make a folder that prints, from your own spreadsheet or to fill in."),
    "order": ("orders", "Put an order on record, from a filled form or typed; or cancel one."),
    "orders": ("orders", "What is open: packs ordered, shipped and short; what to pull and tie."),
    "pages": ("catalog", "Write the web pages that the labels' codes lead to."),
    "prices": ("prices", "Show all prices, and change them: seen first, then written."),
    "reprint": ("printing", "Print a label again just as it was, from the ledger."),
    "sheets": ("catalog", "List the sheets, and the layouts that fit each."),
    "ship": ("ship", "Record what goes to a dealer or comes back, with its packing slip."),
    "stock": ("tied", "Show what is on hand, held, promised and free of every product."),
    "tied": ("tied", "Say what was tied: lots, batch cards and bag labels in one go."),
    "trace": ("ship", "From a bad hook, a code or a dealer to the lots and who has them."),
    "unprint": ("printing", "Take back a run that was not printed, with its cells."),
}  # fmt: skip
"""Every verb: the file in which it is found, and its line in the help."""


class LazyGroup(click.Group):
    """A group whose verbs each live in a module of their own, imported on demand."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Read the words of the whole command line, and refuse what would be dropped of them."""
        _refuse_lost_words(self, ctx, list(args))
        return super().parse_args(ctx, args)

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the verbs' names."""
        return sorted(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return the verb called ``cmd_name``."""
        if cmd_name not in VERBS:
            return None
        module = importlib.import_module(f"labeler.cli.{VERBS[cmd_name][0]}")
        commands = (each for each in vars(module).values() if isinstance(each, click.Command))
        return next(each for each in commands if each.name == cmd_name)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Return the verb asked for, or say which is nearest."""
        if args and args[0] not in VERBS and not args[0].startswith("-"):
            raise click.UsageError(
                f"there is no command {args[0]!r}. {did_you_mean(args[0], sorted(VERBS))}", ctx
            )
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the verbs without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, about) for name, (_, about) in sorted(VERBS.items())])


def _refuse_lost_words(command: click.Command, ctx: click.Context, args: list[str]) -> None:
    """Refuse an option that counts once and is given twice, and words that belong to nothing.

    Of the first click would keep the last only; of the second it does not say what to do. What is
    wrong with the words otherwise is told by the command itself.

    Raises:
        click.UsageError: naming the first such option, or the words.
    """
    try:
        _, rest, order = command.make_parser(ctx).parse_args(list(args))
    except click.UsageError:
        return
    options = [one for one in order if isinstance(one, click.Option)]
    for option in options:
        if options.count(option) > 1 and not (option.multiple or option.count):
            raise click.UsageError(f"{option.opts[0]} is given twice; it counts once", ctx)
    if rest and not isinstance(command, click.Group):
        if not any(option.is_eager for option in options):
            raise click.UsageError(_left_over(options, rest, args), ctx)
        return
    verb = command.get_command(ctx, rest[0]) if isinstance(command, click.Group) and rest else None
    if verb is not None:
        _refuse_lost_words(verb, click.Context(verb, parent=ctx, info_name=rest[0]), rest[1:])


def _left_over(options: Sequence[click.Option], rest: Sequence[str], args: Sequence[str]) -> str:
    """Say of words that belong to nothing what was meant, perhaps."""
    said = f"nothing here takes these words: {' '.join(rest)}."
    ahead = ("", "", *args)  # two words before the first
    before = next((i for i, word in enumerate(args, 1)
                   if word == rest[0] and not ahead[i].startswith("-")), 1)  # fmt: skip
    option, first = ahead[before - 1 : before + 1]
    if not first:
        return said
    run = list(takewhile(lambda word: word in rest, args[before - 1 :]))
    name = next((each for each in options if option in each.opts), None)
    lead = f"{option} " if name else ""
    said += f' If they are one name, put it in quotes: {lead}"{" ".join((first, *run))}".'
    if name and name.multiple:
        return f"{said} If they are several: {lead}{first} {lead}{rest[0]}."
    return said if name else f"{said} If they are several, give one at a time."


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.option(
    "--catalog",
    "catalog",
    metavar="DIR",
    default=".",
    envvar="LABELER_CATALOG",
    type=click.Path(path_type=Path),
    help="Your catalog folder; the current one, or LABELER_CATALOG, if left out.",
)
@click.version_option(__version__, package_name="labeler", message="labeler %(version)s")
@click.pass_context
def labeler(ctx: click.Context, catalog: Path) -> None:
    """Bag labels, card-backs and checks for a maker who ties jigs by hand.

    \b
    Example:
      labeler --catalog my_line bags --sku "RV-*" --count 12 --out bags.pdf

    labeler help TOPIC shows what may stand in a catalog, the sheets, layouts, rules and findings.

    labeler gives no legal advice; it holds labels against rules that it names, each with
    its source. Local law and a qualified adviser come first.
    """  # noqa: D301  (the bare \\b is click's mark for "leave these lines as they are")
    from labeler.files import Readings  # help needs none

    ctx.obj = catalog
    ctx.with_resource(Readings().using())


def run(arguments: Sequence[str], over: Callable[[], None] = lambda: None) -> int:
    """Run the command with ``arguments`` and return its exit status.

    0 is done, 1 findings that stop, 2 wrong use or wrong input, Ctrl-C included. A reader that
    leaves before the end, as ``head`` does, is no fault. What became of runs whose command was
    killed is told at the end, by whatever command saw to them. ``over`` is called once all is done
    and said: an order to stop comes too late then.
    """
    try:
        return _status(arguments, over)
    finally:
        _echo_settled()


def _status(arguments: Sequence[str], over: Callable[[], None]) -> int:
    before, named = _recorded(), len(_in_place())
    try:
        return _invoke(arguments, over)
    except BrokenPipeError:
        _hush()
        return 0
    except OSError as error:
        from labeler.files import system_refusal

        if _recorded() == before or not _was_telling(error):
            _echo(system_refusal(error), arguments)
            _hush()
            return 2
        _hush()
        _echo(_unheard(error), ())
        return 0
    except LabelerError as error:
        _echo(error, arguments)
        return error.exit_status
    except click.BadParameter as error:
        said = _NO_INTEGER.sub("is no whole number", error.format_message())
        _echo(click.UsageError(said, error.ctx), arguments)
        return 2
    except click.ClickException as error:
        _echo(error, arguments)
        return 2
    except (click.Abort, KeyboardInterrupt, MemoryError) as error:
        _echo(_ended(error, _recorded() > before, _in_place()[named:]), arguments)
        return 2
    except Exception:
        if not (damage := _damage()):
            raise
        _echo(LabelerError(damage), arguments)
        return 2


_NO_INTEGER = re.compile("is not a valid integer( range)?")
"""What click calls a word that is no number."""


def _invoke(arguments: Sequence[str], over: Callable[[], None]) -> int:
    """Call the verb. Unlike click's own main, this leaves every error to be told in one place."""
    try:
        with labeler.make_context("labeler", list(arguments)) as context:
            status = labeler.invoke(context)
            over()
    except click.exceptions.Exit as done:
        return done.exit_code
    return status if isinstance(status, int) else 0


def _recorded() -> int:
    """Return how many changes the ledger took; a command that opens none has not loaded it."""
    store = sys.modules.get("labeler.ledger.store")
    return store.Ledger.recorded if store else 0


def _in_place() -> list[Path]:
    """Return the files that got their names; a command that writes none has loaded no room."""
    files = sys.modules.get("labeler.files")
    return files.in_place if files else []


def _echo_settled() -> None:
    store = sys.modules.get("labeler.ledger.store")
    if store is not None and store.Ledger.settled:
        from labeler.cli import words

        with contextlib.suppress(OSError):
            words.echo_findings(store.Ledger.settled)
        store.Ledger.settled.clear()


def _damage() -> tuple[Finding, ...]:
    """Return what is wrong with the ledger that the command that failed had opened."""
    store = sys.modules.get("labeler.ledger.store")
    if store is None or store.Ledger.latest is None:
        return ()
    from labeler.ledger.backup import examine

    try:
        return examine(store.Ledger.latest)
    except LabelerError as error:
        return error.findings


def _was_telling(error: OSError) -> bool:
    """Tell whether it was the answer that could not be written, all work being done by then."""
    frames = (frame for frame, _ in traceback.walk_tb(error.__traceback__))
    return any(frame.f_code is click.echo.__code__ for frame in frames)


def _unheard(error: OSError) -> Finding:
    return fix(
        "answer-lost",
        Place(),
        "it is done and on record, but what it had to say could not be written",
        found=(error.strerror or str(error)).lower(),
        hint="Don't give the command again. What was recorded: labeler lot journal --last 5",
    )


def _ended(error: BaseException, recorded: bool, in_place: Sequence[Path]) -> Finding:
    """Say what ended the work, and what stands of it all the same."""
    if isinstance(error, MemoryError):
        return stop("no-memory", Place(), "there is not enough memory for this")
    journal = "What was recorded by then: labeler lot journal --last 5" if recorded else ""
    if not in_place:
        said = "stopped before the end; no half-written file is left"
        return stop("stopped", Place(), said, hint=journal)
    whole = ", ".join(str(path) for path in in_place)
    said = "stopped, but by then this was in its place, and whole"
    return stop("stopped", Place(), said, found=whole, hint=journal)


def _echo(error: LabelerError | click.ClickException | Finding, arguments: Sequence[str]) -> None:
    """Say what is wrong; where nobody can hear it, the exit status has to do."""
    from labeler.cli import words

    try:
        words.echo_refusal(error, "--json" in arguments)
    except BrokenPipeError:
        _hush()
    except OSError as refused:
        from labeler.files import system_refusal

        _hush()
        with contextlib.suppress(OSError):
            words.echo_findings([system_refusal(refused)])


def _hush() -> None:
    """Send what can't be written nowhere, or Python would complain of it on leaving."""
    for stream in filter(None, (sys.stdout, sys.stderr)):
        try:
            stream.flush()
        except OSError:
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
