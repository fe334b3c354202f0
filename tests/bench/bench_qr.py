"""How long a QR symbol takes, beside other encoders in the same run.

    python -m tests.bench.bench_qr [codes]

Every code is another: its own SKU, its own lot. Ours goes all the way to rectangles merged in
rows; the others stop at the matrix, except where "and rectangles" is said. "qrcode, mask by its
penalties" is the package by what it documents; "qrcode, mask given" makes no choice of mask and
is the least that any documented use of it could come to. The masks of the others need not be
those that ISO/IEC 18004 chooses, nor their symbols as small, so the share that agrees stands
beside them.
Times are the processor's.
"""

from __future__ import annotations

import gc
import sys
import time
import tracemalloc
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import segno
import zxingcpp
from qrcode import QRCode, constants

from labeler.codes.qr import QUIET, qr_symbol, template
from tests.codes.qr_reference import grid_of

Encode = Callable[[str], Any]
ROUNDS = 3


def links(count: int, start: str) -> list[str]:
    """Return as many links, each for another product and lot."""
    return [start.format(sku=f"RV-{nth:04}-BLK", lot=25000000 + 37 * nth) for nth in range(count)]


SAMPLES = {
    "25 modules": "HTTPS://GO.EXAMPLE.COM/P/{sku}",
    "29 modules": "https://example.com/01/09521234543213/10/{lot}",
    "33 modules": "https://go.example.com/p/{sku}/lot/{lot}",
}


def by_qrcode(text: str) -> Any:
    """Choose the mask as the package does."""
    code: Any = QRCode(error_correction=constants.ERROR_CORRECT_M)
    code.add_data(text)
    code.make()
    return code.modules


def by_qrcode_with_a_mask(text: str) -> Any:
    """Take the mask as given."""
    code: Any = QRCode(error_correction=constants.ERROR_CORRECT_M, mask_pattern=2)
    code.add_data(text)
    code.make()
    return code.modules


def by_qrcode_with_rectangles(text: str) -> list[tuple[int, int, int, int]]:
    """Choose the mask as the package does, then merge the modules of each row."""
    bars = []
    for y, row in enumerate(by_qrcode(text)):
        start = None
        for x, dark in enumerate([*row, False]):
            if dark and start is None:
                start = x
            elif not dark and start is not None:
                bars.append((start + QUIET, y + QUIET, x - start, 1))
                start = None
    return bars


def by_segno(text: str) -> Any:
    """Choose the mask as the package does."""
    return segno.make_qr(text, error="M", boost_error=False).matrix


def by_zxing(text: str) -> Any:
    """Encode in C++; the picture is the matrix, one dot a module."""
    return zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.QRCode, ec_level="M").to_image()


def ours(text: str) -> Any:
    """Make the whole symbol, with nothing kept from an earlier call but the template."""
    return qr_symbol.__wrapped__(text, "M")


ENCODERS: dict[str, Encode] = {
    "qrcode, mask by its penalties": by_qrcode,
    "qrcode, and rectangles": by_qrcode_with_rectangles,
    "qrcode, mask given": by_qrcode_with_a_mask,
    "segno": by_segno,
    "zxing-cpp": by_zxing,
    "ours, with rectangles": ours,
}


def seconds(encode: Encode, texts: Sequence[str]) -> float:
    """Return the least time a code over a few rounds, in seconds."""
    encode(texts[0])
    best = float("inf")
    for _ in range(ROUNDS):
        gc.collect()
        start = time.process_time()
        for text in texts:
            encode(text)
        best = min(best, time.process_time() - start)
    return best / len(texts)


def agreement(encode: Encode, texts: Sequence[str]) -> str:
    """Return the share of codes whose matrix is the one with the standard's mask."""
    if encode in (by_qrcode_with_a_mask, by_qrcode_with_rectangles):
        return ""
    same = 0
    for text in texts:
        made = encode(text)
        grid = grid_of(text)
        if encode is not ours:
            theirs = np.array([list(row) for row in made] if encode is not by_zxing else made)
            grid_of_theirs = _trimmed(theirs < 128 if encode is by_zxing else theirs > 0)
            same += grid_of_theirs.shape == grid.shape and bool((grid_of_theirs == grid).all())
        else:
            same += 1
    return f"{same / len(texts):.0%}"


def _trimmed(dark: Any) -> Any:
    """Return a matrix without its quiet zone."""
    rows, columns = np.flatnonzero(dark.any(axis=1)), np.flatnonzero(dark.any(axis=0))
    return dark[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1].astype(np.uint8)


def kilobytes(texts: Sequence[str]) -> float:
    """Return the memory that a finished symbol of ours keeps."""
    ours(texts[0])
    tracemalloc.start()
    kept = [ours(text) for text in texts]
    size = tracemalloc.get_traced_memory()[0]
    tracemalloc.stop()
    return size / len(kept) / 1000


def main(count: int) -> None:
    """Print the table."""
    for name, start in SAMPLES.items():
        texts = links(count, start)
        columns = qr_symbol(texts[0]).columns - 2 * QUIET
        print(f"\n{name}: {count} codes such as {texts[-1]} ({columns} modules in ours)")
        print(f"{'':32}{'ms a code':>10}{'times ours':>12}{'same matrix':>13}")
        figures = {label: seconds(encode, texts) for label, encode in ENCODERS.items()}
        base = figures["ours, with rectangles"]
        for label, figure in figures.items():
            same = agreement(ENCODERS[label], texts[:200])
            print(f"{label:32}{figure * 1000:10.3f}{figure / base:12.1f}{same:>13}")
        print(f"a finished symbol of ours keeps {kilobytes(texts[:300]):.0f} kB")
    start_time = time.process_time()
    template.__wrapped__(4, "M")
    first = time.process_time() - start_time
    print(f"\nfirst symbol of a version and level: {first * 1000:.1f} ms more")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 300)
