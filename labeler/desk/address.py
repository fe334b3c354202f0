"""Where a desk is reached, and the folder in a catalog folder in which it keeps that."""

from __future__ import annotations

import secrets
from contextlib import suppress
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

from labeler.catalog.structure import CATALOG_NAME
from labeler.findings import Place, refusal

ROOM = ".desk"
"""The folder in a catalog folder in which the desk keeps where it is and what it is at."""

LOOPBACK = "127.0.0.1"


@dataclass(frozen=True, slots=True)
class Address:
    """Where a desk is.

    Attributes:
        port: of the loopback address.
        room: what every path of it begins with. A browser shows a cookie to every port of this
            computer, but only under this path, which nobody else can know.
        secret: what opens it, once; it then knows the browser by another.
    """

    port: int
    room: str
    secret: str

    @property
    def host(self) -> str:
        """What a browser calls it."""
        return f"{LOOPBACK}:{self.port}"

    @property
    def url(self) -> str:
        """What opens it."""
        return f"http://{self.host}/{self.room}/?key={self.secret}"

    @classmethod
    def new(cls, port: int) -> Address:
        """Return an address that nobody can guess."""
        return cls(port, secrets.token_hex(4), secrets.token_urlsafe(24))


def begin_folder(folder: Path) -> None:
    """Make a folder for a line that is to be taken in, if it is not there yet.

    Raises:
        LabelerError: if the name is probably a slip for a line's beside it, the folder can't be
            made, or it is the whole home or disk, whose files no line should lie among.
    """
    whole = folder.resolve()
    if (whole / CATALOG_NAME).exists():
        return
    if whole in (Path.home().resolve(), Path(whole.anchor)):
        raise refusal(
            "desk-folder", Place(file=str(folder)), "a line has a folder of its own, and this is "
            "where all your folders are", hint='One is made by its name: labeler --catalog "My '
            'jigs" desk',
        )  # fmt: skip
    if folder.exists():
        return
    with suppress(OSError):
        lines = [one.name for one in whole.parent.iterdir() if (one / CATALOG_NAME).is_file()]
        if near := get_close_matches(whole.name, lines, 1, _A_SLIP):
            raise refusal(
                "desk-folder", Place(file=str(folder)), "there is no such folder",
                hint=f"Did you mean {near[0]!r}? For another line make its folder first.",
            )  # fmt: skip
    try:
        folder.mkdir()
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise refusal(
            "desk-folder", Place(file=str(folder)), f"this folder can't be made: {reason}",
            hint="Make it yourself, or name another: labeler --catalog FOLDER desk",
        ) from error  # fmt: skip


_A_SLIP = 0.8
"""How alike two names are, by `difflib`, that one may be the other mistyped."""


def room_in(folder: Path) -> Path:
    """Return the desk's own folder in a catalog folder, made if it is not there.

    Raises:
        LabelerError: if there is no such folder, or nothing can be written into it.
    """
    room = folder / ROOM
    try:
        room.mkdir(mode=0o700, exist_ok=True)
        with suppress(OSError):  # as it may have come otherwise, by an archive
            room.chmod(0o700)
    except OSError as error:
        there = "nothing can be written into this folder" if folder.is_dir() else (
            "this is a file, not a folder" if folder.exists() else "there is no such folder"
        )  # fmt: skip
        raise refusal(
            "desk-folder", Place(file=str(folder)), f"the desk can't begin: {there}",
            hint="Make the folder first, or name another: labeler --catalog FOLDER desk",
        ) from error  # fmt: skip
    return room
