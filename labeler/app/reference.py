"""References for the maker, made from the data that the program works by, so never out of date.

Each is lines of text: the catalogue's keys from the schema, sheets and layouts from their files,
the maker's own among them, rules and findings from their registries.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path

from labeler.units import Length

TOPICS = {
    "catalog": "Every key of catalog.toml: what it is for, its kind, an example.",
    "sheets": "The sheets that labels and cards are printed on, by their geometry.",
    "layouts": "The layouts of labels and cards, and the sizes they are made for.",
    "rules": "Every rule that labels are held against, with its source.",
    "findings": "What the identifier at the end of a message means.",
}
"""Every topic of ``labeler help`` and what it holds."""


def reference(topic: str, folder: Path) -> Iterator[str]:
    """Yield the lines of a topic.

    Args:
        topic: one of TOPICS.
        folder: the catalog folder, whose own sheets and layouts are listed too.

    Raises:
        LabelerError: if a file of the maker's own can't be read.
    """
    if topic == "catalog":
        from labeler.catalog.structure import reference as keys  # each loads what it reads by

        return iter(keys())
    makers: dict[str, Iterator[str]] = {
        "sheets": _sheets(folder),
        "layouts": _layouts(folder),
        "rules": _rules(),
        "findings": (f"{rule}\n    {meaning}" for rule, meaning in finding_meanings().items()),
    }
    return makers[topic]


def _sheets(folder: Path) -> Iterator[str]:
    from labeler.press.sheets import all_sheets

    for sheet in sorted(all_sheets(folder).values(), key=lambda each: (each.kind, each.name)):
        paper = f"{_size(sheet.width, sheet.height)}"
        if sheet.grid is None:
            what = f"card stock {paper}, cut into cells that follow the card"
        elif sheet.kind == "roll":
            what = f"roll, one label {paper}" + (f", {sheet.dpi} dpi" if sheet.dpi else "")
        else:
            grid = sheet.grid
            cell = _size(grid.cell_width, grid.cell_height)
            what = f"{grid.columns} x {grid.rows} labels {cell} on {paper}"
        yield f"{sheet.name}\n    {what}. Source: {sheet.source}."


def _layouts(folder: Path) -> Iterator[str]:
    from labeler.layout.index import read_index

    for spec in read_index(folder).values():
        size = f"; {_size(*spec.size)} if nothing else is asked for" if spec.size else ""
        sizes = f"{_size(*spec.least)} to {_size(*spec.most)}{size}"
        yield f"{spec.name}  ({spec.use})\n    {spec.about}\n    From {sizes}."


def _rules() -> Iterator[str]:
    from labeler.app.rules import every_rule

    for rule in every_rule():
        where = f"{rule.kind} ({rule.market})" if rule.market else rule.kind
        yield f"{rule.rule}  {where}, {rule.grade}\n    {rule.about}\n    {rule.source}"


def finding_meanings() -> dict[str, str]:
    """Return what each identifier of a finding means, in the order of the alphabet.

    The rules of the places of sale and of the finished page are not among them: they stand with
    their sources under the topic rules.
    """
    registry = Path(__file__).parents[1] / "findings.toml"
    meanings = tomllib.loads(registry.read_text("utf-8"))
    return dict(sorted(meanings.items()))


def _size(width: float, height: float) -> str:
    return f"{Length(width)} x {Length(height)}"
