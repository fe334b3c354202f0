"""The command itself: finds the verbs, and is the one place where errors become words.

Verbs are imported when they are called and not before, so that help answers at once.
"""

from __future__ import annotations

import importlib
import os
from collections.abc import Sequence
from pathlib import Path

import click

from labeler import __version__
from labeler.findings import LabelerError

VERBS = {
    "align": "Print the alignment sheet, and tell a printer's profile from it.",
    "bags": "Print bag labels on the sheet that is in the printer.",
    "cards": "Print card-backs: header cards and insert cards.",
    "catalog": "Make the catalog as a book for dealers or buyers, with its order form.",
    "check": "Check the catalog, or a finished PDF, before ink is spent.",
    "markets": "Show what may be sold where, and by which rule not.",
    "new": "Make a starter folder to fill in.",
    "order": "Read a filled order form: what to pull, what it comes to, what is short.",
    "pages": "Write the web pages that the labels' codes lead to.",
}
"""Every verb and its line in the help."""


class LazyGroup(click.Group):
    """A group whose verbs each live in a module of their own, imported on demand."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the verbs' names."""
        return sorted(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return the verb called ``cmd_name``."""
        if cmd_name not in VERBS:
            return None
        module = importlib.import_module(f"labeler.cli.{cmd_name}")
        command: click.Command = getattr(module, cmd_name)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Return the verb asked for, or say which is nearest."""
        from labeler.findings import did_you_mean

        if args and args[0] not in VERBS and not args[0].startswith("-"):
            raise click.UsageError(
                f"there is no command {args[0]!r}. {did_you_mean(args[0], sorted(VERBS))}", ctx
            )
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the verbs without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl(sorted(VERBS.items()))


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

    labeler gives no legal advice; it holds labels against rules that it names, each with
    its source. Local law and a qualified adviser come first.
    """  # noqa: D301  (the bare \\b is click's mark for "leave these lines as they are")
    ctx.obj = catalog


def run(arguments: Sequence[str]) -> int:
    """Run the command with ``arguments`` and return its exit status.

    0 is done, 1 findings that stop, 2 wrong use or wrong input, Ctrl-C included.
    """
    from labeler.cli import words

    as_json = "--json" in arguments
    try:
        status = labeler.main(list(arguments), prog_name="labeler", standalone_mode=False)
        return status if isinstance(status, int) else 0
    except LabelerError as error:
        words.tell_error(error, as_json)
        return error.exit_status
    except click.ClickException as error:
        if as_json:
            words.tell_usage_error(error)
        else:
            error.show()
        return 2
    except (click.Abort, KeyboardInterrupt):
        click.echo("Stopped. Nothing was written under the final name.", err=True)
        return 2
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        return 0
