"""Ways to damage a good page, operator by operator, and a table of what was damaged and found."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial
from itertools import pairwise
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from labeler.checker.judge import check_pdf
from labeler.checker.report import Report
from labeler.files import Readings
from labeler.findings import Grade

DAY = dt.date(2026, 11, 25)
HARMLESS = {"file-edited"}
"""Said of every damaged file, since the press's own sum no longer fits."""


@pytest.fixture(scope="package", autouse=True)
def read_once() -> Iterator[None]:
    """Read each catalog once for all the files that are held against it, as the desk does."""
    with Readings().using():
        yield


@dataclass
class Run:
    """One showing of text in a piece's operators."""

    at: int
    text: str
    font: str
    size: float
    tm: int


@dataclass
class Sheet:
    """A printed file, open to be damaged. Places are from a piece's top left corner, y down."""

    pdf: pikepdf.Pdf
    claims: dict[str, Any] = field(init=False)
    pages: dict[int, list[Any]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.claims = json.loads(self.pdf.attachments["run-sheet.json"].get_file().read_bytes())

    def page_of(self, sku: str, side: str = "front") -> tuple[int, list[Any], dict[str, Any]]:
        """Return the page, the place and the piece's record of one side of a product's piece."""
        for group in self.claims["pages"]:
            for spot in group["places"]:
                piece = self.claims["pieces"][spot[0]]
                if piece["sku"] == sku and spot[4] == side:
                    return group["numbers"][0][0] - 1, spot, piece
        raise KeyError(sku)

    def words(self, page: int) -> list[Any]:
        if page not in self.pages:
            self.pages[page] = list(pikepdf.parse_content_stream(self.pdf.pages[page]))
        return self.pages[page]

    def block(self, sku: str, side: str = "front") -> tuple[int, int, int]:
        """Return the page of a piece's side, and its first and last operator."""
        page, spot, piece = self.page_of(sku, side)
        words = self.words(page)
        wide, high = piece["size"] if spot[3] else (0.0, 0.0)
        depth, begin = 0, None
        for at, (operands, operator) in enumerate(words):
            name = str(operator)
            if name == "q":
                depth += 1
            elif name == "Q":
                depth -= 1
                if depth == 0 and begin is not None:
                    return page, begin, at
            elif name == "cm" and depth == 1 and begin is None:
                x, y = float(operands[4]), float(operands[5])
                if abs(x - spot[1] - wide) < 0.01 and abs(y - spot[2] - high) < 0.01:
                    begin = at + 1
        raise KeyError(f"no operators of {sku}")

    def runs(self, sku: str, side: str = "front") -> Iterator[Run]:
        """Yield every showing of text on a piece's side."""
        page, begin, end = self.block(sku, side)
        font, size, tm = "", 0.0, 0
        for at in range(begin, end):
            operands, operator = self.words(page)[at]
            name = str(operator)
            if name == "Tf":
                font, size = str(operands[0]), float(operands[1])
            elif name == "Tm":
                tm = at
            elif name in ("Tj", "TJ"):
                parts = operands[0] if name == "TJ" else [operands[0]]
                codes = b"".join(bytes(p) for p in parts if isinstance(p, pikepdf.String))
                letters = self.letters(page, font)
                yield Run(at, "".join(letters.get(code, "") for code in codes), font, size, tm)

    def holding(self, sku: str, words: str, side: str = "front") -> Run:
        """Return the first showing of text that holds ``words``, with what stands beside them."""
        return next(run for run in self.runs(sku, side) if words in run.text)

    def run(self, sku: str, words: str, side: str = "front") -> Run:
        """Return the first showing of ``words``, parted from what it shows beside them."""
        run = self.holding(sku, words, side)
        if run.text.strip() == words:
            return run
        first = run.text.index(words)
        cuts = sorted({0, first, first + len(words), len(run.text)})
        page = self.page_number(sku, side)
        shown, place = self.words(page)[run.at][0][0], self.words(page)[run.tm][0]
        a, b, c, d, x, y = (float(number) for number in place)
        font = self.pdf.pages[page].Resources.Font[run.font]
        codes: list[tuple[int, float]] = []  # each with what brings it nearer to the one before
        near = 0.0
        for item in shown if isinstance(shown, pikepdf.Array) else [shown]:
            for code in bytes(item) if isinstance(item, pikepdf.String) else ():
                codes.append((code, near))
                near = 0.0
            near += 0.0 if isinstance(item, pikepdf.String) else float(item)
        parts = []
        for begin, end in pairwise(cuts):
            part = " ".join(f"{near} <{code:02x}>" for code, near in codes[begin:end])
            parts.append(f"{a} {b} {c} {d} {x} {y} Tm {run.font} {run.size} Tf [{part}] TJ")
            wide = sum(float(font.Widths[code - int(font.FirstChar)]) - near
                       for code, near in codes[begin:end])  # fmt: skip
            x += a * wide / 1000 * run.size
        del self.words(page)[run.at]
        self.put(sku, run.at, " ET BT ".join(parts), side)
        return self.holding(sku, words, side)

    def letters(self, page: int, font: str) -> dict[int, str]:
        entry = self.pdf.pages[page].Resources.Font[font]
        pairs = re.findall(rb"<(\w\w)> <(\w{4,})>", entry.ToUnicode.read_bytes())
        return {int(code, 16): bytes.fromhex(u.decode()).decode("utf-16-be") for code, u in pairs}

    def page_number(self, sku: str, side: str = "front") -> int:
        return self.page_of(sku, side)[0]

    # ------------------------------------------------------------------------- what can be done

    def put(self, sku: str, at: int, operators: str, side: str = "front") -> None:
        """Put operators into a piece's side before the operator ``at``."""
        page = self.page_number(sku, side)
        stream = self.pdf.make_stream(operators.encode("latin-1"))
        self.words(page)[at:at] = list(pikepdf.parse_content_stream(stream))

    def over(self, sku: str, operators: str, side: str = "front") -> None:
        """Draw over all else on a piece's side."""
        _, _, end = self.block(sku, side)
        self.put(sku, end, f"q {operators} Q", side)

    def under(self, sku: str, operators: str, side: str = "front") -> None:
        """Draw under all else on a piece's side."""
        _, begin, _ = self.block(sku, side)
        self.put(sku, begin, f"q {operators} Q", side)

    def wrap(self, sku: str, run: Run, before: str, after: str, side: str = "front") -> None:
        """Put operators before and after a showing of text."""
        self.put(sku, self.end_of(sku, run, side) + 1, after, side)
        self.put(sku, self.begin_of(sku, run, side), before, side)

    def begin_of(self, sku: str, run: Run, side: str = "front") -> int:
        words = self.words(self.page_number(sku, side))
        return next(at for at in range(run.at, 0, -1) if str(words[at][1]) == "BT")

    def end_of(self, sku: str, run: Run, side: str = "front") -> int:
        words = self.words(self.page_number(sku, side))
        return next(at for at in range(run.at, len(words)) if str(words[at][1]) == "ET")

    def clipped(self, sku: str, words: str, box: str, side: str = "front") -> None:
        """Let a showing of text be seen only in a box."""
        run = self.run(sku, words, side)
        again = f"{run.font} {run.size} Tf"
        self.wrap(sku, run, f"q {box} re W n {again}", f"Q {again}", side)

    def write(self, sku: str, run: Run, text: str, side: str = "front") -> None:
        """Set other letters, of those that the font has, in place of a showing of text."""
        page = self.page_number(sku, side)
        codes: dict[str, int] = {}
        for code, letter in self.letters(page, run.font).items():
            codes.setdefault(letter, code)
        missing = set(text) - set(codes)
        assert not missing, f"the font has no {sorted(missing)}"
        data = pikepdf.String(bytes(codes[letter] for letter in text))
        self.words(page)[run.at] = pikepdf.ContentStreamInstruction([data], pikepdf.Operator("Tj"))

    def rewrite(self, sku: str, old: str, new: str, side: str = "front") -> None:
        """Change words in the showing of text that holds them."""
        run = self.holding(sku, old, side)
        self.write(sku, run, run.text.replace(old, new), side)

    def refigure(self, sku: str, old: str, new: str, side: str = "front") -> None:
        """Change a built fraction, which is shown in three."""
        runs, parts = list(self.runs(sku, side)), list(old.partition("⁄"))
        threes = (runs[at : at + 3] for at in range(len(runs)))
        built = next(three for three in threes if [each.text for each in three] == parts)
        for run, text in zip(built, new.partition("⁄"), strict=True):
            self.write(sku, run, text, side)

    def drop(self, sku: str, words: str, side: str = "front") -> None:
        """Show nothing where ``words`` stood."""
        self.write(sku, self.run(sku, words, side), "", side)

    def matrix(self, sku: str, run: Run, change: Callable[..., Any], side: str = "front") -> None:
        page = self.page_number(sku, side)
        six = [float(number) for number in self.words(page)[run.tm][0]]
        self.words(page)[run.tm] = pikepdf.ContentStreamInstruction(
            list(change(*six)), pikepdf.Operator("Tm")
        )

    def move(self, sku: str, words: str, x: float, y: float, side: str = "front") -> None:
        """Move the showing of text that holds ``words``."""
        run = self.run(sku, words, side)
        self.matrix(sku, run, lambda a, b, c, d, e, f: (a, b, c, d, e + x, f + y), side)

    def scale(self, sku: str, words: str, by: float, side: str = "front") -> None:
        """Set every showing of text that holds ``words`` smaller or larger."""
        for run in [run for run in self.runs(sku, side) if words in run.text]:
            self.matrix(
                sku, run, lambda a, b, c, d, e, f: (a * by, b * by, c * by, d * by, e, f), side
            )

    def spot(self, sku: str, words: str, side: str = "front") -> tuple[float, float, float, float]:
        """Return x and baseline of a showing of text, its size, and its rough width."""
        run = self.run(sku, words, side)
        operands = self.words(self.page_number(sku, side))[run.tm][0]
        x, y, by = float(operands[4]), float(operands[5]), float(operands[0])
        return x, y, run.size * by, 0.4 * run.size * by * len(run.text)

    def state(self, sku: str, name: str, **entries: float) -> None:
        """Add a dictionary of graphics state parameters to the resources of a piece's page."""
        resources = self.pdf.pages[self.page_number(sku)].Resources
        states = resources.get("/ExtGState", pikepdf.Dictionary())
        states[f"/{name}"] = pikepdf.Dictionary(**entries)
        resources["/ExtGState"] = states

    def helvetica(self, sku: str, side: str = "front") -> None:
        """Name a font that is not inside the file: /FH."""
        fonts = self.pdf.pages[self.page_number(sku, side)].Resources.Font
        fonts["/FH"] = pikepdf.Dictionary(
            Type=pikepdf.Name.Font, Subtype=pikepdf.Name.Type1, BaseFont=pikepdf.Name.Helvetica,
            Encoding=pikepdf.Name.WinAnsiEncoding,
        )  # fmt: skip

    def typed(
        self, sku: str, x: float, y: float, text: str, font: str, side: str = "front"
    ) -> None:
        """Print more text, in a font that a run of the piece has, given as ``words@size``."""
        words, _, size = font.partition("@")
        run = self.holding(sku, words, side)
        codes = {letter: code for code, letter in self.letters(
            self.page_number(sku, side), run.font).items()}  # fmt: skip
        data = bytes(codes[letter] for letter in text).hex()
        self.over(sku, f"BT 0 g {run.font} {size} Tf 1 0 0 -1 {x} {y} Tm <{data}> Tj ET", side)

    def code(self, sku: str, bars: bool = False, side: str = "front") -> int:
        """Return the ``cm`` before a piece's code: the path of many rectangles."""
        page, begin, end = self.block(sku, side)
        words = self.words(page)
        for at in range(begin, end):
            if str(words[at][1]) == "cm" and str(words[at + 1][1]) == "re":
                high = float(words[at + 1][0][3])
                if bars == (high > 5):
                    return at
        raise KeyError(f"no code of {sku}")

    def code_end(self, sku: str, bars: bool = False, side: str = "front") -> int:
        """Return the operator that fills the path of a piece's code."""
        words = self.words(self.page_number(sku, side))
        at = self.code(sku, bars, side)
        return next(n for n in range(at, len(words)) if str(words[n][1]) == "f")

    def code_box(
        self, sku: str, bars: bool = False, side: str = "front"
    ) -> tuple[float, float, float, float]:
        """Return left, top, right and bottom of a code's dark modules on its piece."""
        words = self.words(self.page_number(sku, side))
        begin, end = self.code(sku, bars, side), self.code_end(sku, bars, side)
        a, _, _, d, e, f = (float(number) for number in words[begin][0])
        corners = [tuple(map(float, w[0])) for w in words[begin + 1 : end]]
        xs = [x for x, _, wide, _ in corners for x in (x, x + wide)]
        ys = [y for _, y, _, high in corners for y in (y, y + high)]
        return a * min(xs) + e, d * min(ys) + f, a * max(xs) + e, d * max(ys) + f

    def code_matrix(
        self, sku: str, change: Callable[..., Any], bars: bool = False, side: str = "front"
    ) -> None:
        """Change the matrix under which a code is drawn."""
        at = self.code(sku, bars, side)
        words = self.words(self.page_number(sku, side))
        six = [float(number) for number in words[at][0]]
        words[at] = pikepdf.ContentStreamInstruction(list(change(*six)), pikepdf.Operator("cm"))

    def swap_codes(self, sku: str, other: str, bars: bool = False, side: str = "front") -> None:
        """Exchange the bars of two pieces' codes, each in its own place."""
        words = self.words(self.page_number(sku, side))
        paths = []
        for each in (sku, other):
            begin, end = self.code(each, bars, side) + 1, self.code_end(each, bars, side)
            paths.append((begin, end, words[begin:end]))
        (b0, e0, p0), (b1, e1, p1) = sorted(paths, key=lambda path: path[0])
        words[b1:e1] = p0
        words[b0:e0] = p1

    def save(self, path: Path) -> Path:
        """Write the damaged file."""
        for number, words in self.pages.items():
            page = self.pdf.pages[number]
            page.Contents = self.pdf.make_stream(pikepdf.unparse_content_stream(words))
        self.pdf.save(path)
        return path


# -------------------------------------------------------------------------------- the hunt

Damage = Callable[[Sheet], None]
Hunt = Callable[..., Report]


@pytest.fixture
def hunt(
    bases: dict[str, Any], workshop: Any, tmp_path: Path, request: pytest.FixtureRequest
) -> Hunt:
    """Damage a good file and check it; the rule must be broken on that piece and no other."""

    def run(name: str, rule: str, base: str, sku: str, damage: Damage, **how: Any) -> Report:
        good = bases[base]
        with pikepdf.open(good.pdf) as pdf:
            sheet = Sheet(pdf)
            damage(sheet)
            file = sheet.save(tmp_path / "damaged.pdf")
        report = check_pdf(file, good.folder, day=how.pop("day", workshop.day), **how)
        expect(report, rule, sku)
        tell(request, name, rule, report, sku, file, good.folder)
        return report

    return run


@pytest.fixture
def misprint(
    tmp_path: Path, bases: dict[str, Any], workshop: Any, request: pytest.FixtureRequest
) -> Hunt:
    """Print from a doctored catalog and check against the true one."""

    def run(
        name: str, rule: str, base: str, sku: str, changes: dict[str, str], **how: Any
    ) -> Report:
        make = workshop.warned if base == "witness" else workshop.copied
        doctored = make(tmp_path / "doctored", **changes)
        wish = workshop.wishes[base] | how.pop("wish", {})
        wrong = workshop.printed(doctored, tmp_path / "wrong.pdf", **wish)
        true = bases[base].folder
        report = check_pdf(wrong.pdf, true, day=how.pop("day", workshop.day), **how)
        expect(report, rule, sku)
        tell(request, name, rule, report, sku, wrong.pdf, true)
        return report

    return run


@pytest.fixture
def expect_fault(request: pytest.FixtureRequest) -> Callable[..., None]:
    """Hold that a report finds a fault, and note it for the table."""

    def tell_it(name: str, rule: str, report: Report, sku: str, *of: Path) -> None:
        expect(report, rule, sku)
        tell(request, name, rule, report, sku, *of)

    return tell_it


@pytest.fixture
def told(request: pytest.FixtureRequest) -> Callable[..., None]:
    """Note for the table a planted fault that was found."""
    return partial(tell, request)


@pytest.fixture(scope="session")
def sheet_of() -> Callable[[pikepdf.Pdf], Sheet]:
    """Open a printed file to be damaged."""
    return Sheet


def expect(report: Report, rule: str, sku: str) -> None:
    """Hold that a rule is broken on a piece; an empty rule is for damage that does no harm."""
    grave = [f for f in report.findings if f.grade is not Grade.NOTE and f.rule not in HARMLESS]
    if not rule:
        assert not grave, "\n".join(map(str, grave))
        return
    there = [f for f in report.findings if f.rule == rule and f.place.piece in (sku, "")]
    assert there, f"{rule} not found; instead:\n" + "\n".join(map(str, grave))


# --------------------------------------------------------------------- which are for every day


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Leave each rule one planted fault in the quick run; the others are sieges."""
    seen: set[str] = set()
    for item in items:
        if not item.path.is_relative_to(Path(__file__).parent):
            continue
        params: dict[str, Any] = getattr(getattr(item, "callspec", None), "params", {})
        rule = params["fault"][1] if "fault" in params else params.get("rule")
        if rule in seen:
            item.add_marker(pytest.mark.siege)
        elif rule is not None:
            seen.add(rule)


# ------------------------------------------------------------------------- the table at the end

Told = tuple[str, str, int, str]
TOLD = pytest.StashKey[dict[str, list[Told]]]()


def tell(
    request: pytest.FixtureRequest, name: str, rule: str, report: Report, sku: str,
    file: Path | None = None, folder: Path | None = None,
) -> None:  # fmt: skip
    """Note a planted fault for the table at the end of the run.

    The damaged file and its catalog are for ``--both-ways``.
    """
    empty: dict[str, list[Told]] = defaultdict(list)
    table = request.config.stash.setdefault(TOLD, empty)
    grades = [f.grade.value for f in report.findings if f.rule == rule]
    others = {
        f.place.piece for f in report.findings
        if f.grade is not Grade.NOTE and f.place.piece not in ("", sku)
    }  # fmt: skip
    both = request.config.getoption("--both-ways") and file and folder
    ways = _found_by(file, folder) if both and file and folder else ""
    table[rule or "(none: no harm done)"].append((name, (grades or ["-"])[0], len(others), ways))


def _found_by(file: Path, folder: Path) -> str:
    """Return which of the two ways finds more than a note in a file, each asked alone."""
    from labeler.app.again import make_again

    read, again = check_pdf(file, folder, day=DAY).findings, make_again(folder, file, None).findings
    by = [
        way
        for way, found in (("reading", read), ("making again", again))
        if any(each.grade is not Grade.NOTE and each.rule not in HARMLESS for each in found)
    ]
    return " and ".join(by) or "neither"


def pytest_terminal_summary(terminalreporter: Any, config: pytest.Config) -> None:
    """Print the table of planted faults by rule."""
    table = config.stash.get(TOLD, {})
    if not table:
        return
    count = sum(map(len, table.values()))
    terminalreporter.section(f"{count} planted faults, by the rule that found them")
    for rule in sorted(table):
        for name, grade, others, ways in table[rule]:
            beside = f"  (also on {others} other pieces)" if others else ""
            by = f"  (by {ways})" if ways else ""
            terminalreporter.write_line(f"{rule:<28} {grade:<5} {name}{beside}{by}")
    tally = Counter(ways for rule, faults in table.items() if rule[0] != "(" for *_, ways in faults)
    for ways, many in sorted(tally.items()):
        if ways:
            terminalreporter.write_line(f"found by {ways}: {many}")
