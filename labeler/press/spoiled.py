"""Cells of a sheet that are used up or torn, as the maker names them."""

from __future__ import annotations

import re

from labeler.findings import Finding, LabelerError, Place, stop
from labeler.press.placing import Spot

_ITEM = re.compile(r"^(?:(\d{1,6}):)?(\d{1,6})(?:-(\d{1,6}))?$")
_LOOSE = re.compile(r"\s*([-:])\s*")
_MOST = 10_000


def read_spoiled(text: str) -> frozenset[Spot]:
    """Return the cells that ``text`` names.

    ``3``, ``7-9`` and ``3, 7-9`` are cells of the first sheet, the one that was begun before;
    ``2:5`` is cell 5 of the second sheet and ``2:5-7`` its cells 5 to 7.

    Raises:
        LabelerError: naming each part that is not understood.
    """
    findings: list[Finding] = []
    spots: set[Spot] = set()
    for item in filter(None, re.split(r"[,;\s]+", _LOOSE.sub(r"\1", text))):
        found = _ITEM.match(item)
        first, last = (int(found[2]), int(found[3] or found[2])) if found else (1, 0)
        if not found or first > last or last > _MOST:
            findings.append(
                stop(
                    "spoiled-cells",
                    Place(key="spoiled"),
                    "this names no cell",
                    found=repr(item),
                    expected="a cell such as 3, cells such as 7-9, or 2:5 for the second sheet",
                )
            )
            continue
        spots.update(Spot(int(found[1] or 1), cell) for cell in range(first, last + 1))
    if findings:
        raise LabelerError(findings)
    return frozenset(spots)
