"""Symbols turned into pixels, and two decoders of different make to read them."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import zxingcpp
from PIL import Image

from labeler.codes.print_quality import Symbol

Raster = Callable[[Symbol, int], Image.Image]
Reader = Callable[[Image.Image], list[tuple[str, bytes]]]

_ZXING_NAMES = {
    zxingcpp.BarcodeFormat.QRCode: "qr",
    zxingcpp.BarcodeFormat.EAN13: "ean-13",
    zxingcpp.BarcodeFormat.UPCA: "upc-a",
    zxingcpp.BarcodeFormat.EAN8: "ean-8",
}


@pytest.fixture(scope="session")
def raster() -> Raster:
    """Draw a symbol, black on white, with so many dots a module and no paper around it."""

    def draw(symbol: Symbol, dots: int) -> Image.Image:
        size = (round(symbol.rows * dots), round(symbol.columns * dots))
        page = np.full(size, 255, np.uint8)
        for left, top, width, height in symbol.bars:
            page[
                round(top * dots) : round((top + height) * dots),
                round(left * dots) : round((left + width) * dots),
            ] = 0
        return Image.fromarray(page)

    return draw


@pytest.fixture(scope="session")
def zxing() -> Reader:
    """Read all codes of our kinds in a picture with zxing-cpp.

    Asked for every kind there is, it now and then sees a short Codabar or ITF in a large QR code.
    """

    def read(picture: Image.Image) -> list[tuple[str, bytes]]:
        found = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormats(list(_ZXING_NAMES)))
        return [(_ZXING_NAMES[one.format], one.bytes) for one in found]

    return read


@pytest.fixture(scope="session")
def zbar() -> Reader:
    """Read all codes in a picture with zbar, a decoder with no code in common with zxing-cpp."""
    try:
        from pyzbar import pyzbar
    except ImportError as missing:
        pytest.skip(
            f"SECOND DECODER NOT RUN: zbar's shared library is missing ({missing});"
            " install the package libzbar0 (Debian, Ubuntu) or zbar (Homebrew)"
        )
    names = {"QRCODE": "qr", "EAN13": "ean-13", "UPCA": "upc-a", "EAN8": "ean-8"}
    kinds = [pyzbar.ZBarSymbol[name] for name in names]

    def read(picture: Image.Image) -> list[tuple[str, bytes]]:
        return [(names[one.type], one.data) for one in pyzbar.decode(picture, kinds)]

    return read
