"""Makers' files to take in, and the command as a maker types it."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from labeler.cli.group import run

ANSWERS = """\
# the five, as a maker writes them
maker: Sample Slough Jigs, 14 Mill Lane, Low Ferry, WI 54899
sold: Wisconsin, Minnesota
heads: lead, 1/4 and 3/8 oz
origin: hooks Japan, the rest USA
bags: clear, 1 a bag, 3 x 5 in
"""
SHEET = """\
Jigs of mine
Jig,Size,Color,Hk,Retail,Notes,Pic
Slough Hopper,3/8,Muskrat,4/0,$4.50,,IMG_2231
,1/2,Muskrat,5/0,4.75,,
,3/8,Olive,4/0,call,best seller,
Bank Creeper,1/4,Black & Blue,2/0,3.95,,
"""


class Said(NamedTuple):
    """What a command did."""

    status: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """The one JSON object on the standard output."""
        return json.loads(self.out)


Cli = Callable[..., Said]


@pytest.fixture
def cli(capsys: pytest.CaptureFixture[str]) -> Cli:
    """Return a function that runs the command and gives what it did."""

    def call(*words: object) -> Said:
        capsys.readouterr()
        status = run([str(word) for word in words])
        return Said(status, *capsys.readouterr())

    return call


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    """A folder with a spreadsheet and the answers."""
    (tmp_path / "jigs.csv").write_text(SHEET, "utf-8")
    (tmp_path / "answers.txt").write_text(ANSWERS, "utf-8")
    return tmp_path
