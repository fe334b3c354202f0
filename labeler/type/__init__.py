"""Type: faces, styles, words into lines, and what fits."""

__all__ = ("faces", "setting", "styles")
