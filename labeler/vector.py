"""Drawings that come as SVG or PDF, turned into pixels by another process.

resvg draws SVG: it runs no scripts, follows no address, and its wheel has all it needs. PDFium
draws PDF. Both read files of strangers, so they do it in a process of their own, whose processor
time and memory are bounded: what breaks or never ends is a finding.
"""

from __future__ import annotations

import io
import os
import subprocess
import sys
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from labeler.findings import Finding, LabelerError, Place, stop

if TYPE_CHECKING:
    from PIL import Image

WIDE = 1600
"""Pixels across what is drawn: 600 to the inch at 2 2/3 in, wider than a logo on any paper."""

MOST_BYTES = 5_000_000
"""A logo that was saved with a photograph inside is smaller."""

_MOST_HIGH = 4 * WIDE
_SECONDS, _MEMORY = 20, 1_500_000_000
"""Of processor time and of address space: a hundred times what a logo takes."""

_PNG = b"\x89PNG"

_ELSEWHERE = "a part that lies elsewhere"
_WORDS = "letters as type, whose typeface is not in the file"
_REFUSED = {
    "text": _WORDS, "tspan": _WORDS, "textPath": _WORDS,
    "foreignObject": "a web page", "feImage": _ELSEWHERE,
}  # fmt: skip
"""What an SVG can hold that would look otherwise on another computer, or not at all."""


def kind_of(file: BinaryIO) -> str:
    """Return svg, pdf, or nothing for a file that begins as neither; it is read from its start."""
    head = file.read(4096)
    file.seek(0)
    if head.startswith(b"%PDF-"):
        return "pdf"
    plain = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    return "svg" if plain.startswith(b"<") and b"<svg" in head else ""


def rendered(path: Path, kind: str) -> bytes:
    """Return a drawing as a PNG file, cut to what is drawn, on nothing.

    Args:
        path: the file; of a PDF the first page is taken.
        kind: svg or pdf.

    Raises:
        LabelerError: with one finding, if it is damaged, empty, too large or too slow, or an SVG
            that holds type or needs other files.
    """
    try:
        size = path.stat().st_size
        data = path.read_bytes() if size <= MOST_BYTES else b""
    except OSError as error:
        raise LabelerError(_fault("missing", path, kind, f"can't be read: {error}")) from None
    if not data:
        raise LabelerError(
            _fault("enormous", path, kind, "is too large to be a logo", f"{size / 1e6:.1f} MB",
                   f"at most {MOST_BYTES // 1_000_000} MB")
        )  # fmt: skip
    png, why = drawn(data, kind)
    if why:
        rule, _, found = why.partition(":")
        raise LabelerError(_fault(rule, path, kind, _MEANS[rule], found))
    return png


_MEANS = {
    "broken": "is damaged, or shows nothing",
    "enormous": "takes too long or too much memory to draw",
    "kind": "can't be drawn the same everywhere",
}
_HINTS = {
    "broken": "Open it in the program that made it and save it again, or save it as PNG.",
    "enormous": "Save it as a PNG of 1,600 pixels across.",
    "kind": "Convert text to paths and embed pictures in your drawing program, or save it as PNG.",
    "missing": "",
}


def _fault(
    rule: str, path: Path, kind: str, words: str, found: str = "", expected: str = ""
) -> Finding:
    return stop(
        f"picture-{rule}", Place(file=str(path)), f"this {kind.upper()} drawing {words}",
        found=found, expected=expected, hint=_HINTS[rule],
    )  # fmt: skip


@lru_cache(maxsize=8)
def drawn(data: bytes, kind: str) -> tuple[bytes, str]:
    """Return a drawing as a PNG file, or nothing, the rule that is broken and what was found."""
    done = subprocess.run(
        [sys.executable, "-m", "labeler.vector", kind],
        input=data, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, check=False,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
    )  # fmt: skip
    if done.returncode < 0:
        return b"", "enormous:"
    if done.returncode or not done.stdout.startswith(_PNG):
        return b"", done.stdout.decode("utf-8", "replace") or "broken:"
    return done.stdout, ""


# ----------------------------------------------------------------------------
# In the other process.


class _RefusedError(Exception):
    """What the file is refused for: the rule, a colon, and what was found."""


def _bounded() -> None:
    """Bound this process; Windows knows no such bounds."""
    if sys.platform == "win32":
        return
    import resource

    for what, most in (
        (resource.RLIMIT_CPU, _SECONDS), (resource.RLIMIT_AS, _MEMORY), (resource.RLIMIT_CORE, 0),
    ):  # fmt: skip
        _, hard = resource.getrlimit(what)
        resource.setrlimit(what, (most if hard < 0 else min(most, hard), hard))


def _svg(data: bytes) -> Image.Image:
    import resvg_py
    from lxml import etree
    from PIL import Image

    parser = etree.XMLParser(
        resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False, remove_pis=True,
        remove_comments=True,
    )  # fmt: skip
    try:
        root = etree.fromstring(data, parser)
    except etree.XMLSyntaxError as error:
        raise _RefusedError(f"broken:{error.msg}") from None
    for node in root.iter():
        if not isinstance(node.tag, str):
            raise _RefusedError("kind:an entity of its own")
        name = etree.QName(node).localname
        if name in _REFUSED:
            raise _RefusedError(f"kind:{_REFUSED[name]}")
        links = [str(value) for key, value in node.attrib.items() if str(key).endswith("href")]
        away = name != "a" and not all(_carried(link) for link in links)
        if away or (name == "style" and "@import" in (node.text or "")):
            raise _RefusedError(f"kind:{_ELSEWHERE}")
    text = etree.tostring(root, encoding="unicode")
    try:
        png = resvg_py.svg_to_bytes(svg_string=text, width=WIDE, skip_system_fonts=True)
    except ValueError as error:
        raise _RefusedError(f"broken:{error}") from None
    picture = Image.open(io.BytesIO(png))
    if picture.height > _MOST_HIGH:
        raise _RefusedError(f"enormous:{picture.width} × {picture.height}")
    return picture.convert("RGBA")


def _carried(link: str) -> bool:
    """Tell whether a part lies in the drawing itself; a picture as pixels."""
    return link.startswith(("#", "data:image/png", "data:image/jpeg", "data:image/jpg"))


def _pdf(data: bytes) -> Image.Image:
    import pypdfium2

    try:
        page = pypdfium2.PdfDocument(data)[0]
    except (pypdfium2.PdfiumError, IndexError) as error:
        raise _RefusedError(f"broken:{error}") from None
    wide, high = page.get_size()
    small = _page(page, min(1.0, 1000 / max(wide, high)), (0, 0, 0, 0))
    box = small.getchannel("A").getbbox()
    if box is None:
        raise _RefusedError("broken:an empty page")
    per = small.width / wide
    left, top, right, bottom = (side / per for side in box)
    edges = (max(0, left - 1), max(0, high - bottom - 1), max(0, wide - right - 1), max(0, top - 1))
    across = wide - edges[0] - edges[2]
    if (high - edges[1] - edges[3]) * WIDE / across > _MOST_HIGH:
        raise _RefusedError("enormous:a drawing that is far higher than wide")
    return _page(page, WIDE / across, edges)


def _page(page: object, scale: float, crop: tuple[float, float, float, float]) -> Image.Image:
    """Return what stands on a page, on nothing; ``crop`` is left, bottom, right and top."""
    import pypdfium2.raw as pdfium_c

    shown = page.render(  # type: ignore[attr-defined]
        scale=scale, crop=crop, fill_color=(255, 255, 255, 0), may_draw_forms=False,
        force_bitmap_format=pdfium_c.FPDFBitmap_BGRA,
    )  # fmt: skip
    picture: Image.Image = shown.to_pil()
    return picture.convert("RGBA")


def _answer(kind: str) -> None:
    """Read a drawing and write it as PNG, or write what is wrong with it."""
    data = sys.stdin.buffer.read()
    _bounded()
    try:
        picture = {"svg": _svg, "pdf": _pdf}[kind](data)
        box = picture.getchannel("A").getbbox()
        if box is None:
            raise _RefusedError("broken:nothing is drawn")
        made = io.BytesIO()
        picture.crop(box).save(made, "PNG", compress_level=1)
        answer = made.getvalue()
    except MemoryError:
        answer = b"enormous:"
    except _RefusedError as refused:
        answer = str(refused).encode()
    sys.stdout.buffer.write(answer)


if __name__ == "__main__":
    _answer(sys.argv[1])
