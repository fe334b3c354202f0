"""A file beside a catalog folder that opens its desk by a double click."""

from __future__ import annotations

import os
import shlex
import sys
from pathlib import Path

from labeler.app.workstation import LEDGER_VARIABLE
from labeler.files import delivered, refuse_to_bury
from labeler.findings import Place, masked, refusal
from labeler.ledger.file import is_address


def write_launcher(folder: Path, system: str = sys.platform) -> Path:
    """Write the launcher that this system knows, and return its file.

    It names this Python, this folder, and the ledger's folder where the environment names one.

    Args:
        folder: the catalog's.
        system: as `sys.platform` names it.

    Raises:
        LabelerError: if it can't be written, or a name can't stand in such a file.
    """
    folder = folder.resolve()
    words = [sys.executable, "-m", "labeler", "--catalog", str(folder), "desk"]
    named = {}
    if ledger := os.environ.get(LEDGER_VARIABLE, "").strip():
        if is_address(ledger):
            raise refusal(
                "launcher-address", Place(key=LEDGER_VARIABLE),
                "the ledger is a server's, and its address, which may hold a password, is put in "
                "no file that opens the desk", found=masked(ledger),
                hint="Write it in catalog.toml, [ledger] url; then the launcher needs to know "
                "nothing.",
            )  # fmt: skip
        named[LEDGER_VARIABLE] = str(Path(ledger).resolve())
    if odd := [word for word in (*words, *named.values()) if not word.isprintable()]:
        raise refusal("launcher-name", Place(file=repr(odd[0])),
                      "this name holds signs that no launcher can name",
                      hint="Give the folder a plain name.")  # fmt: skip
    ending, text, head = _WRITERS.get(system, _desktop)(words, named, f"{folder.name} desk")
    file = folder.with_name(f"{folder.name} desk{ending}")
    refuse_to_bury(file, head)
    with delivered(file) as out:
        out.write(text.encode())
    file.chmod(0o755)
    return file


_Launcher = tuple[str, str, bytes]
"""The file's ending, what it holds, and how every such file of ours begins."""


def _desktop(words: list[str], named: dict[str, str], title: str) -> _Launcher:
    """Source: Desktop Entry Specification 1.5, freedesktop.org, "The Exec key"."""
    setting = ["env", *(f"{name}={value}" for name, value in named.items())] if named else []
    command = " ".join(_exec(word) for word in [*setting, *words])
    head = "[Desktop Entry]\nType=Application\n"
    name = title.replace("\\", "\\\\")
    return ".desktop", f"{head}Name={name}\nExec={command}\nTerminal=true\n", head.encode()


def _exec(word: str) -> str:
    for sign in '\\"`$':
        word = word.replace(sign, "\\" + sign)
    return '"' + word.replace("\\", "\\\\").replace("%", "%%") + '"'


def _command(words: list[str], named: dict[str, str], title: str) -> _Launcher:
    setting = "".join(f"export {name}={shlex.quote(value)}\n" for name, value in named.items())
    head = "#!/bin/sh\n"
    return ".command", f"{head}{setting}exec {shlex.join(words)}\n", head.encode()


def _bat(words: list[str], named: dict[str, str], title: str) -> _Launcher:
    doubled = ['"' + word.replace("%", "%%") + '"' for word in words]
    setting = "".join(f'set "{name}={value.replace("%", "%%")}"\r\n'
                      for name, value in named.items())  # fmt: skip
    head = "@echo off\r\n"
    lines = f"{head}chcp 65001 >nul\r\n{setting}{' '.join(doubled)}\r\n"
    return ".bat", lines, head.encode()


_WRITERS = {"darwin": _command, "win32": _bat}
