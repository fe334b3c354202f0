"""Settings solved once: the pieces of a run that share a layout are set alike.

Each piece is laid out by itself first. Where the pieces differ, their blocks are measured together:
every block asks for the room that the neediest of its sisters asks for, a text takes the largest
size that all of them can take, statements the fullest form, QR codes one version. With what comes
of it each piece is laid out again: what is the same in all of them stands at the same place in the
same size. The order of the pieces makes no difference.

Pieces whose layout came out with other blocks (some have a price bar, some a recipe's figure) are
measured apart, and take sizes and forms from each other. Where one measure for all does not do,
there is one for each pattern; a piece that can't take part stands by itself, and that is told.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

from typing_extensions import override

from labeler.findings import Finding, LabelerError, Place, a_few, listed, note, read_each
from labeler.geometry import Box
from labeler.layout.block import (
    Block,
    Edges,
    Extent,
    FittedSizes,
    Laid,
    LayoutContext,
    Size,
    Surface,
    TypeSize,
)
from labeler.layout.boxes import Container
from labeler.layout.compose import Composed, Composer, Job, compose_each
from labeler.layout.drawn_blocks import CodeBlock, Framed
from labeler.layout.index import read_index
from labeler.layout.text_blocks import Disclosure, TextBlock, common_form
from labeler.marks import Code, Glyphs, Group, Mark

Key = TypeVar("Key", bound=Hashable)


@dataclass(slots=True)
class Limits:
    """What blocks of one name may take at most, so that all pieces of a layout do."""

    sizes: dict[str, float] = field(default_factory=dict)
    forms: dict[str, tuple[int, int]] = field(default_factory=dict)
    versions: dict[str, int] = field(default_factory=dict)
    forced: dict[str, tuple[float, str]] = field(default_factory=dict)
    """Of a text the least size that any of them needs, and whose it is."""


class Sisters(Block):
    """The same block of several pieces: it asks for what the neediest asks for, and draws none."""

    def __init__(self, blocks: Sequence[Block], context: LayoutContext, limits: Limits) -> None:
        self.context, self.limits = context, limits
        self.node = blocks[0].node
        self.holds_quantity = any(block.holds_quantity for block in blocks)
        # A text that found no room on its own piece is left out there, and asks for none here.
        self.texts = [
            block for block in blocks
            if isinstance(block, TextBlock) and block.node.key in block.context.laid.sizes
        ]  # fmt: skip
        self.blocks = self.texts or blocks
        self.ascent = max((block.text.ascent for block in self.texts), default=0.0)
        self.descent = max((block.text.descent for block in self.texts), default=0.0)
        self.said = [b for b in blocks if isinstance(b, Disclosure) and not b.empty]
        codes = [block for block in blocks if isinstance(block, CodeBlock)]
        known = limits.versions.get(called(self.node.key), 0)
        self.version = max([known, *(code.version for code in codes)])
        for code in codes:
            code.at_version(self.version)

    @override
    def natural(self, width: Extent, height: Extent, fullness: float) -> Size:
        sizes = [block.natural(width, height, fullness) for block in self.blocks]
        more = [self._more(text) * text.text.size_at(fullness) for text in self.texts]
        return max(wide for wide, _ in sizes), max(high for _, high in sizes) + max(more, default=0)

    def _more(self, block: TextBlock) -> float:
        """Return what the tallest letters of all texts stand out over a text's own, in sizes."""
        return self.ascent - block.text.ascent + self.descent - block.text.descent

    @override
    def least_width(self) -> float:
        return max(block.least_width() for block in self.blocks)

    @override
    def margin(self, width: float | None) -> Edges:
        return _edges(max, [block.margin(width) for block in self.blocks])

    @override
    def blank(self) -> Edges:
        return _edges(min, [block.blank() for block in self.blocks])

    @override
    def drop(self, width: float, height: float) -> float:
        if not self.texts:
            return min(block.drop(width, height) for block in self.blocks)
        sizes = (text.text.largest_size(width, height, text.text.most) for text in self.texts)
        common = min(size or 0.0 for size in sizes)
        return min(text.drop_at(width, height, common) for text in self.texts)

    @override
    def draw(self, box: Box, surface: Surface) -> None:
        """Find what all of them can take in a box."""
        width, height = box[2] - box[0], box[3] - box[1]
        key, laid = self.node.key, self.context.laid
        if self.texts:
            laid.sizes[key] = self._common_size(width, height)
        elif self.said:
            laid.forms[key] = self._common_form(width, height)
        elif self.version:
            laid.versions[key] = self.version
        framed = [block for block in self.blocks if isinstance(block, Framed)]
        read_each(lambda block: block.framed(box), framed)  # none may be a blot

    def _common_size(self, width: float, height: float) -> TypeSize:
        name = called(self.node.key)
        sizes: list[tuple[float, str]] = []
        faults: list[Finding] = []
        for block in self.texts:
            size = block.text.largest_size(width, height, block.text.most)
            if size and (more := self._more(block) * size):
                size = block.text.largest_size(width, height - more, block.text.most)
            if size is None:
                faults += block.overflows(width, height).findings
            else:
                sizes.append((size, block.context.subject.sku if block.context.subject else ""))
        if faults:
            raise LabelerError(faults)
        least = min(sizes)
        self.limits.forced[name] = min(least, self.limits.forced.get(name, least))
        size = min(least[0], self.limits.sizes.get(name, least[0]))
        return size, self.ascent, self.descent

    def _common_form(self, width: float, height: float) -> tuple[int, int]:
        first, most = self.limits.forms.get(called(self.node.key), (0, None))
        found = common_form(self.said, width, height, first)
        if found is None:
            tight = [block for block in self.said if block.fitting(width, height) is None]
            faults = (block.overflows(width, height) for block in tight or self.said)
            raise LabelerError(each for fault in faults for each in fault.findings)
        return found if most is None or found[0] > first else (found[0], min(found[1], most))


def called(key: str) -> str:
    """Return what a block is called wherever it stands: its side, and its name in the layout."""
    return f"{key.split('/', 2)[1].partition('@')[0]} {key.rpartition('/')[2].partition('@')[0]}"


def _edges(choose: Callable[[Iterable[float]], float], sides: Sequence[Edges]) -> Edges:
    top, right, bottom, left = (choose(edges) for edges in zip(*sides, strict=True))
    return top, right, bottom, left


def joined(blocks: Sequence[Block], context: LayoutContext, limits: Limits) -> Block:
    """Return one block that asks for what any of these, the same block of several pieces, does."""
    first = blocks[0]
    if not isinstance(first, Container):
        return Sisters(blocks, context, limits)
    containers = [block for block in blocks if isinstance(block, Container)]
    by_key: defaultdict[str, list[Block]] = defaultdict(list)
    for container in containers:
        for child in container.children:
            by_key[child.node.key].append(child)
    order = _merged([[child.node.key for child in each.children] for each in containers])
    children = [joined(by_key[key], context, limits) for key in order]
    return type(first)(first.node, children, context, first.holes)


def _merged(orders: Sequence[Sequence[str]]) -> list[str]:
    """Return every key of some lists once, each after the ones that it follows in its list."""
    whole: list[str] = []
    for order in sorted(set(map(tuple, orders)), key=lambda one: (-len(one), one)):
        at = 0
        for key in order:
            if key in whole:
                at = whole.index(key) + 1
            else:
                whole.insert(at, key)
                at += 1
    return whole


# ------------------------------------------------------------------------------------ a run


@dataclass(slots=True)
class _Group:
    """Pieces that have the same blocks, by their numbers in the run."""

    numbers: list[int]
    apart: bool = False
    """Whether their names are too long to stand as large as those of others."""
    fault: LabelerError | None = None
    settings: FittedSizes | None = None
    forced: dict[str, tuple[float, str]] = field(default_factory=dict)
    """As in `Limits`, of the measure that its settings come from."""


def set_alike(composer: Composer, jobs: Sequence[Job], alone: Sequence[Composed]) -> list[Composed]:
    """Return pieces that are set alike where they share a layout and a size.

    What is worth saying of the run, not of a piece, is added to the composer's findings.

    Args:
        composer: which laid them out.
        jobs: what they were laid out from.
        alone: each piece laid out by itself.
    """
    made = list(alone)
    of_layout: defaultdict[Hashable, list[int]] = defaultdict(list)
    for number, job in enumerate(jobs):
        of_layout[job.layout, job.size].append(number)
    told: list[Finding] = []
    for numbers in of_layout.values():
        run = _Run(composer, jobs, alone, numbers)
        for number, piece in run.pieces():
            made[number] = piece
        told += run.findings
    composer.findings = told
    return [replace(piece, built=None) for piece in made]


@dataclass(slots=True)
class _Run:
    """The pieces of one layout and size."""

    composer: Composer
    jobs: Sequence[Job]
    alone: Sequence[Composed]
    numbers: Sequence[int]
    findings: list[Finding] = field(default_factory=list)

    def _laid(self, number: int) -> Laid:
        return self.alone[number].laid

    def pieces(self) -> Iterator[tuple[int, Composed]]:
        """Yield the pieces that are set otherwise than by themselves."""
        if _agree([self._laid(number) for number in self.numbers]):
            return
        limits = Limits()
        apart = self._long_named()
        groups = self._solved(limits, apart)
        self.findings += self._told(groups)
        given = [
            (number, replace(self.jobs[number], settings=group.settings))
            for group in groups
            if group.settings is not None
            for number in group.numbers
        ]
        alone = [number for group in groups if group.fault for number in group.numbers]
        made = self._drawn(given)
        for (number, _), piece in zip(given, made, strict=True):
            if isinstance(piece, Composed):
                yield number, piece
            else:
                alone.append(number)
        if alone:
            skus = [self.jobs[number].product.sku for number in sorted(alone)]
            self.findings.append(
                note(
                    "set-apart", Place(piece=skus[0] if len(skus) == 1 else ""),
                    "these can't be set like the others of this run, so each is set by itself",
                    found=listed(list(dict.fromkeys(skus)), 6),
                )
            )  # fmt: skip

    def _drawn(self, given: Sequence[tuple[int, Job]]) -> Iterator[Composed | LabelerError]:
        """Yield the pieces drawn by their settings; what was built of them is built once."""
        if not all(self.alone[number].built for number, _ in given):
            yield from compose_each(self.composer, [job for _, job in given])
            return
        for number, job in given:
            try:
                yield self.composer.drawn_again(self.alone[number], job)
            except LabelerError as error:
                yield error

    def _solved(self, limits: Limits, apart: frozenset[str]) -> list[_Group]:
        """Return the groups with their settings, sizes and forms shared by all of them."""
        groups = [part for group in self._groups(apart) for part in self._with_room(group, limits)]
        for _ in range(3):  # for all groups first sizes and forms, then how large forms can be
            for group in groups:
                self._measure(group, limits)
            for group in groups:
                _limit(limits, group)
        for group in groups:
            self._measure(group, limits)
        return groups

    def _with_room(self, group: _Group, limits: Limits) -> Iterator[_Group]:
        """Yield a group; where one measure is too tight for all, patterns apart.

        Those go first whose pieces the fault names, then those of long names.
        """
        self._measure(group, limits)
        parts = self._by(group.numbers, self._pattern)
        while group.fault and len(parts) > 1:
            named = {each.place.piece for each in group.fault.findings}
            at_fault = [
                code for code, part in parts.items()
                if any(self.jobs[number].product.sku in named for number in part)
            ]  # fmt: skip
            code = min(at_fault or parts, key=lambda code: (self._least_name(parts[code]), code))
            apart = _Group(parts.pop(code), True)
            self.findings.append(self._not_as_one(apart))
            yield apart
            group = _Group([number for part in parts.values() for number in part], group.apart)
            self._measure(group, limits)
        yield group

    def _least_name(self, numbers: Sequence[int]) -> float:
        """Return the size of the smallest name on pieces that were laid out by themselves."""
        return min((size for size, _ in self._alone(numbers, _OWN[0])), default=0.0)

    def _alone(self, numbers: Sequence[int], name: str) -> list[tuple[float, str]]:
        """Return a text's sizes on pieces that were laid out by themselves, and their SKUs."""
        return [
            (size, self.jobs[number].product.sku)
            for number in numbers
            for key, (size, *_) in self._laid(number).sizes.items()
            if called(key) == name
        ]

    def _pattern(self, number: int) -> str:
        return self.jobs[number].product.pattern.code

    def _long_named(self) -> frozenset[str]:
        """Return the patterns whose names can't stand nearly as large as those of the others."""
        found: set[str] = set()
        parts = self._by(self.numbers, self._pattern)
        for name in _OWN:
            sizes = {code: self._alone(part, name) for code, part in parts.items()}
            needs = {code: min(each) for code, each in sizes.items() if each}
            usual = sorted(size for size, _ in needs.values())[len(needs) // 2 :][:1]
            for code, (size, sku) in sorted(needs.items()):
                if size < _NEARLY * usual[0]:
                    found.add(code)
                    what = _TELLING[name.partition(" ")[2]]
                    self.findings.append(
                        note(
                            "set-apart", Place(piece=sku),
                            f"the {what} is too long to stand as large as on the others, so its "
                            "pattern is set by itself",
                            found=f"{size:.3g} pt", expected=f"{usual[0]:.3g} pt",
                        )
                    )  # fmt: skip
        return frozenset(found)

    def _groups(self, apart: frozenset[str]) -> Iterator[_Group]:
        """Yield the pieces that have the same blocks, those of long names apart by pattern."""

        def alike(number: int) -> Hashable:
            code = self._pattern(number)
            return self._laid(number).build, code if code in apart else ""

        for part in self._by(self.numbers, alike).values():
            yield _Group(part, self._pattern(part[0]) in apart)

    @staticmethod
    def _by(numbers: Sequence[int], key: Callable[[int], Key]) -> dict[Key, list[int]]:
        found: defaultdict[Key, list[int]] = defaultdict(list)
        for number in numbers:
            found[key(number)].append(number)
        return found

    def _measure(self, group: _Group, limits: Limits) -> None:
        """Find a group's settings, or what stands in their way."""
        pieces = [(self.jobs[n], self._laid(n)) for n in self._neediest(group.numbers)]
        sizes = limits.sizes
        if group.apart:
            sizes = {name: size for name, size in sizes.items() if name not in _OWN}
        own = Limits(sizes, limits.forms, limits.versions)
        try:
            group.settings = self.composer.measured(
                pieces, lambda blocks, context: joined(blocks, context, own)
            )
            group.fault, group.forced = None, own.forced
        except LabelerError as error:
            group.settings, group.fault, group.forced = None, error, {}

    def _neediest(self, numbers: Sequence[int]) -> list[int]:
        """Return the pieces that say for every block how much room it may ask for."""
        most: dict[tuple[str, int], tuple[float, str, int]] = {}
        each: dict[tuple[str, str], tuple[str, int]] = {}
        for number in numbers:
            sku = f"{self.jobs[number].product.sku} {self.jobs[number].lot}"
            for key, demands in self._laid(number).demands.items():
                if isinstance(demands, str):
                    known = each.get((key, demands))
                    if known is None or sku < known[0]:
                        each[key, demands] = sku, number
                    continue
                for place, size in enumerate(demands or (0.0,)):
                    best = most.get((key, place))
                    if best is None or (-size, sku) < (-best[0], best[1]):
                        most[key, place] = size, sku, number
        found = {n for _, _, n in most.values()} | {n for _, n in each.values()}
        return sorted(found, key=lambda n: (self.jobs[n].product.sku, self.jobs[n].lot))

    def _not_as_one(self, group: _Group) -> Finding:
        """Return that a pattern is set by itself, since one measure for all is too tight."""
        skus = sorted({self.jobs[number].product.sku for number in group.numbers})
        return note(
            "set-apart", Place(piece=skus[0]),
            "if it were set like the others there would be too little room, so its pattern is set "
            "by itself",
        )  # fmt: skip

    def _told(self, groups: Sequence[_Group]) -> Iterator[Finding]:
        """Yield for whose sake a text is smaller on all pieces but those that are set apart."""
        together = [group for group in groups if group.settings is not None and not group.apart]
        for name in sorted({name for group in together for name in group.forced}):
            size, whose = min(group.forced[name] for group in together if name in group.forced)
            what = name.partition(" ")[2]
            numbers = [number for group in together for number in group.numbers]
            by_itself, _ = max(self._alone(numbers, name))
            if what in _TELLING and by_itself - size > _SEEN:
                yield note(
                    "set-smaller-for-one", Place(piece=whose),
                    f"the {_TELLING[what]} is set smaller on all pieces of this run for the sake "
                    "of this one",
                    found=f"{size:.3g} pt", expected=f"up to {by_itself:.3g} pt",
                    hint="Print it in a run of its own if the others should stand larger.",
                )  # fmt: skip


_SAME = 0.05
"""Points by which boxes may differ and still count as the same: less than a printer can place."""


def _agree(pieces: Sequence[Laid]) -> bool:
    """Tell whether pieces that were laid out by themselves are set alike already."""
    first = pieces[0]
    if any(
        (each.forms, each.versions, each.sizes.keys(), each.boxes.keys())
        != (first.forms, first.versions, first.sizes.keys(), first.boxes.keys())
        for each in pieces
    ):
        return False
    for key in first.sizes:
        sizes, rises, _ = zip(*(each.sizes[key] for each in pieces), strict=True)
        if max(sizes) != min(sizes) or (max(rises) - min(rises)) * sizes[0] > _SAME:
            return False
    for key in first.boxes:
        edges = zip(*(each.boxes[key] for each in pieces), strict=True)
        if any(max(edge) - min(edge) > _SAME for edge in edges):
            return False
    return True


_SEEN = 0.75
"""Points by which type must differ for an eye to see it from a peg; house choice."""

_TELLING = {
    "pattern": "pattern's name", "colour": "color's name", "weight": "weight", "price": "price",
}  # fmt: skip
"""What is worth saying where it is set smaller; other texts differ by what an eye does not see."""


_OWN = ("front pattern", "front colour")
"""Texts whose size a pattern may have to itself."""

_NEARLY = 0.75
"""Below this share of the usual size a name is too long to set the size of all; house choice."""


def _limit(limits: Limits, group: _Group) -> None:
    """Take what a group found as a limit for all groups."""
    settings = group.settings
    if settings is None:
        return
    for key, (size, *_) in settings.sizes.items():
        name = called(key)
        if not (group.apart and name in _OWN):
            limits.sizes[name] = min(size, limits.sizes.get(name, size))
    for key, (form, step) in settings.forms.items():
        name = called(key)
        known = limits.forms.get(name, (form, step))
        limits.forms[name] = (
            max(known[0], form),
            (min(known[1], step) if known[0] == form else step if form > known[0] else known[1]),
        )
    for key, version in settings.versions.items():
        name = called(key)
        limits.versions[name] = max(version, limits.versions.get(name, version))


def below_aim(pieces: Iterable[tuple[Job, Composed]]) -> Iterator[Finding]:
    """Yield which texts are too small for the peg, once for all pieces that they are on."""
    small: defaultdict[tuple[str, float], list[tuple[float, str]]] = defaultdict(list)
    for job, piece in pieces:
        for called_so, high, aim in piece.laid.below_aim:
            small[called_so, aim].append((high, job.product.sku))
    for (called_so, aim), found in small.items():
        skus = list(dict.fromkeys(sku for _, sku in found))
        where = f" on {a_few(skus, 6)}" if len(skus) > 1 else ""
        yield note(
            "text-below-aim", Place(piece=skus[0] if len(skus) == 1 else ""),
            f"{called_so} is smaller than a buyer reads from 5 ft away",
            found=f"capitals {min(found)[0]:.1f} pt high{where}", expected=f"{aim:g} pt",
            hint="A shorter name, a larger label or another layout shows it larger.",
        )  # fmt: skip


def left_out(pieces: Iterable[tuple[Job, Composed]]) -> Iterator[Finding]:
    """Yield what found no room, once for all pieces that would have said it.

    That is a statement that nobody asks for, and on small layouts the code and the hook's size;
    what a layout of the maker's own shows is her choice.
    """
    said: defaultdict[str, list[str]] = defaultdict(list)
    facts: defaultdict[str, list[tuple[str, str]]] = defaultdict(list)
    for job, piece in pieces:
        for text in piece.laid.left_out:
            said[text].append(job.product.sku)
        shown = set(_shown([mark for face in piece.piece.faces for mark in face.marks]))
        if job.link and job.link not in shown:
            facts["the QR code"].append((job.layout, job.product.sku))
        size = job.product.hook_size
        if size and not any(size in words for words in shown):
            facts["the size of the hook"].append((job.layout, job.product.sku))
    for text, skus in said.items():
        yield _no_room(
            "optional-left-out", f"there was no room for “{text}”, which no rule asks for", skus
        )
    shipped = read_index() if facts else {}
    for fact, lacking in facts.items():
        if skus := [sku for layout, sku in lacking if layout in shipped]:
            yield _no_room("fact-left-out", f"{fact} does not stand on this layout", skus)


def _shown(marks: Iterable[Mark]) -> Iterator[str]:
    """Yield the words and the codes' content of marks; a drawing has none."""
    for mark in marks:
        if isinstance(mark, Group) and not mark.key:
            yield from _shown(mark.marks)
        elif isinstance(mark, Glyphs):
            yield mark.text
        elif isinstance(mark, Code):
            yield mark.payload


def _no_room(rule: str, told: str, skus: Sequence[str]) -> Finding:
    names = list(dict.fromkeys(skus))
    return note(
        rule, Place(piece=names[0] if len(names) == 1 else ""), told,
        found=listed(names, _SKUS_SHOWN) if len(names) > 1 else "",
        hint="A larger label or another layout holds it.",
    )  # fmt: skip


_SKUS_SHOWN = 3
"""How many products are named, and the others counted."""
