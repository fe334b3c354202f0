"""``labeler desk``: everything that the commands do, on a page in the browser."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from labeler.cli import options, words

if TYPE_CHECKING:
    from labeler.desk.address import Address


@click.command()
@options.flag("--no-browser", help="Only show the address; open nothing.")
@options.flag("--icon", help="Write a file beside the folder that opens its desk.")
@options.as_json("the address")
@click.pass_obj
def desk(folder: Path, /, no_browser: bool, icon: bool, as_json: bool) -> None:
    """Open the desk: a page in your browser on which the week's work is done.

    A folder without a line yet, or one that is not there yet, begins with the page Take-in, which
    makes one from your spreadsheet and photos.

    Only this computer can reach it, by the address that is shown: keep that to yourself. Ctrl-C in
    this window closes it. Called again on the same folder it opens the page that is there.

    \b
    Examples:
      labeler --catalog my_line desk
      labeler --catalog my_line desk --icon
    """  # noqa: D301
    from labeler.desk.address import begin_folder

    begin_folder(folder)
    if icon:
        from labeler.desk.launcher import write_launcher

        file = write_launcher(folder)
        if as_json:
            words.echo_json({"done": True, "file": str(file)})
        else:
            words.say(f"{file}: opens the desk by a double click.")
        return
    from labeler.desk.serve import opener, serve

    def open_(address: Address, again: bool = False) -> None:
        if as_json:
            words.echo_json({"done": True, "address": address.url, "again": again})
        elif again:
            click.echo(f"The desk of this folder is open already:\n  {address.url}")
        else:
            click.echo(f"The desk is open, on this computer alone:\n  {address.url}\n"
                       "Ctrl-C closes it.")  # fmt: skip
        if not no_browser:
            click.launch(opener(folder, address).as_uri())

    if (first := serve(folder, open_)) is not None:
        open_(first, again=True)
    elif not as_json:
        click.echo("The desk is closed.")
