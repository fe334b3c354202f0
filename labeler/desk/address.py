"""Where a desk is reached, and the folder in a catalog folder in which it keeps that."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from pathlib import Path

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


def room_in(folder: Path) -> Path:
    """Return the desk's own folder in a catalog folder, made if it is not there.

    Raises:
        LabelerError: if there is no such folder, or nothing can be written into it.
    """
    room = folder / ROOM
    try:
        room.mkdir(mode=0o700, exist_ok=True)
    except OSError as error:
        there = "nothing can be written into this folder" if folder.is_dir() else (
            "this is a file, not a folder" if folder.exists() else "there is no such folder"
        )  # fmt: skip
        raise refusal(
            "desk-folder", Place(file=str(folder)), f"the desk can't begin: {there}",
            hint="Make the folder first, or name another: labeler --catalog FOLDER desk",
        ) from error  # fmt: skip
    return room
