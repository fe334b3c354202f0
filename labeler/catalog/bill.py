"""Which materials go into a pattern tied in a colour: what a label must answer for.

Most are named outright. Glue, paint and eyes are not: a text such as "two drops of thin
cyanoacrylate" means the glue whose name it holds, or the only glue there is.
"""

from __future__ import annotations

from collections.abc import Iterator

from labeler.catalog.model import CatalogFile, Colour, Material, MaterialKind, Pattern


def materials_of(file: CatalogFile, pattern: Pattern, colour: Colour) -> dict[str, Material]:
    """Return the materials of a pattern in a colour, by their names in the catalog.

    The alloy comes first, then hook, guard, layers in tying order, thread, glue, paint and eyes.
    """
    return {name: file.materials[name] for name in _names(file, pattern, colour) if name}


def _names(file: CatalogFile, pattern: Pattern, colour: Colour) -> Iterator[str | None]:
    yield file.heads[pattern.head].alloy
    yield file.hooks[pattern.hook].material
    if pattern.guard:
        yield file.guards[pattern.guard].material
    yield from (layer.material for layer in colour.layers)
    yield pattern.tie.thread
    yield from unnamed(file, pattern, colour)


def unnamed(file: CatalogFile, pattern: Pattern, colour: Colour) -> Iterator[str]:
    """Yield the glue, paint and eyes that go in without being named by their heading."""
    yield from which(file, "glue", pattern.tie.glue)
    yield from which(file, "paint", colour.head_paint)
    yield from which(file, "eyes", "eyes" if file.heads[pattern.head].eyes else None)


def which(file: CatalogFile, kind: MaterialKind, said: str | None) -> list[str]:
    """Return the materials of ``kind`` that ``said`` means: those it names, else the only one."""
    of_kind = {name: one for name, one in file.materials.items() if one.kind == kind}
    if not said or not of_kind:
        return []
    plain = said.casefold()
    named = [
        name
        for name, one in of_kind.items()
        if name.casefold() in plain or one.name.casefold() in plain
    ]
    return named or (list(of_kind) if len(of_kind) == 1 else [])
