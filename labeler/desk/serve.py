"""The desk's server: one address of this computer alone, and one desk to a catalog folder.

The first desk of a folder holds a file there, which says where it is and can be read by its owner
alone. The system lets go of it when the desk ends, however it ends: a desk that was killed stands
in nobody's way.
"""

from __future__ import annotations

import contextlib
import json
import socket
import time
from collections.abc import Callable
from dataclasses import asdict
from html import escape
from pathlib import Path
from typing import Any, BinaryIO

from labeler.desk.address import LOOPBACK, ROOM, Address, room_in
from labeler.files import delivered, held_alone
from labeler.findings import Place, refusal

_FILE, _OPENER = "address.json", "open.html"


def opener(folder: Path, address: Address) -> Path:
    """Return a file that leads a browser to the desk, which only its owner can read.

    A program's arguments can be read by everybody on the computer, and the address opens the desk.

    Raises:
        LabelerError: if it can't be written.
    """
    file = room_in(folder) / _OPENER
    where = escape(address.url)
    with delivered(file) as out:
        out.write(
            '<!DOCTYPE html>\n<html lang="en"><meta charset="utf-8"><title>The desk</title>\n'
            f'<meta http-equiv="refresh" content="0; url={where}">\n'
            f'<a href="{where}">Open the desk</a></html>\n'.encode()
        )
    file.chmod(0o600)
    return file.resolve()


def serve(folder: Path, ready: Callable[[Address], object]) -> Address | None:
    """Keep the desk open until it is told to end (Ctrl-C); or return where it is open already.

    Args:
        folder: the catalog's.
        ready: called with the address as soon as it answers.

    Raises:
        LabelerError: if it can't begin.
    """
    room = room_in(folder)
    try:
        held = held_alone(room / _FILE)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise refusal(
            "desk-folder", Place(file=f"{ROOM}/{_FILE}"), f"the desk can't begin: {reason}",
            hint="See whether the folder may be written to.",
        ) from error  # fmt: skip
    if held is None:
        return _first(room / _FILE)
    with held, socket.socket() as door:
        if hasattr(socket, "SO_EXCLUSIVEADDRUSE"):  # Windows would let another listen here too
            door.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        door.bind((LOOPBACK, 0))
        address = Address.new(door.getsockname()[1])
        _write(held, json.dumps(asdict(address)))
        try:
            _run(folder, address, door, ready)
        finally:
            _write(held, "")
            (room / _OPENER).unlink(missing_ok=True)
    return None


def _write(file: BinaryIO, text: str) -> None:
    file.seek(0)
    file.truncate()
    file.write(text.encode())
    file.flush()


_PATIENCE = 5.0
"""Seconds in which a desk that has just begun says where it is."""


def _first(file: Path) -> Address:
    """Return where the desk is that holds the file.

    Raises:
        LabelerError: if it does not say, or nobody is there: on a disk that knows no locks.
    """
    until = time.monotonic() + _PATIENCE
    while time.monotonic() < until:
        with contextlib.suppress(OSError, ValueError, TypeError):
            address = Address(**json.loads(file.read_text("utf-8")))
            with socket.create_connection((LOOPBACK, address.port), timeout=1.0):
                return address
        time.sleep(0.05)
    raise refusal(
        "desk-elsewhere", Place(file=f"{ROOM}/{file.name}"),
        "another program holds this file, and no desk answers where it says one is",
        hint="If no desk is open on this folder, take the file away and begin again.",
    )  # fmt: skip


def _run(
    folder: Path, address: Address, door: socket.socket, ready: Callable[[Address], object]
) -> None:
    import uvicorn

    from labeler.desk.application import application

    app, desk = application(folder, address)

    class Server(uvicorn.Server):
        """Says when it answers, and lets nobody wait for it to end."""

        async def startup(self, sockets: list[socket.socket] | None = None) -> None:
            await super().startup(sockets)
            desk.works.warm()
            ready(address)

        def handle_exit(self, *signal: Any) -> None:
            desk.closing.set()
            super().handle_exit(*signal)

    config = uvicorn.Config(
        app, http="h11", ws="none", lifespan="off", log_config=None, log_level="error",
        access_log=False, server_header=False, proxy_headers=False, timeout_graceful_shutdown=3,
    )  # fmt: skip
    try:
        with contextlib.suppress(KeyboardInterrupt):  # which is how one ends it
            Server(config).run([door])
    finally:
        desk.close()
