"""Pictures in a PDF: each once, however often it is placed."""

from __future__ import annotations

import zlib
from io import BytesIO

from PIL import Image as Pixels
from PIL import UnidentifiedImageError

from labeler.findings import LabelerError, Place, stop
from labeler.marks import Image
from labeler.press.pdf_file import PdfFile

_SPACES = {"L": "DeviceGray", "RGB": "DeviceRGB"}


class Pictures:
    """The pictures of one PDF, by their key."""

    def __init__(self, file: PdfFile) -> None:
        self._file = file
        self._numbers: dict[str, int] = {}

    def number(self, image: Image) -> int:
        """Return the object that holds ``image``, written the first time it is asked for.

        Raises:
            LabelerError: if the data is no picture.
        """
        known = self._numbers.get(image.key)
        if known is None:
            try:
                known = self._numbers[image.key] = self._write(image)
            except (UnidentifiedImageError, OSError, SyntaxError) as error:
                raise LabelerError(
                    stop("picture-unusable", Place(), f"this picture can't be printed: {error}")
                ) from error
        return known

    def _write(self, image: Image) -> int:
        with Pixels.open(BytesIO(image.data)) as pixels:
            if pixels.format == "JPEG" and pixels.mode in _SPACES:
                entries = _entries(pixels, pixels.mode) + "/Filter/DCTDecode"
                return self._file.add_stream(image.data, entries, packed=True)
            return self._write_pixels(pixels)

    def _write_pixels(self, pixels: Pixels.Image) -> int:
        """Write the pixels as they are, and their transparency beside them."""
        grey = pixels.mode in ("1", "L", "LA") and "transparency" not in pixels.info
        mask = ""
        if pixels.has_transparency_data:
            alpha = pixels.convert("RGBA").getchannel("A")
            mask = f"/SMask {self._flat(alpha, '')} 0 R"
            pixels = pixels.convert("RGBA")
        return self._flat(pixels.convert("L" if grey else "RGB"), mask)

    def _flat(self, pixels: Pixels.Image, more: str) -> int:
        entries = _entries(pixels, pixels.mode) + more + "/Filter/FlateDecode"
        return self._file.add_stream(zlib.compress(pixels.tobytes(), 6), entries, packed=True)


def _entries(pixels: Pixels.Image, mode: str) -> str:
    return (
        f"/Type/XObject/Subtype/Image/Width {pixels.width}/Height {pixels.height}"
        f"/ColorSpace/{_SPACES[mode]}/BitsPerComponent 8"
    )
