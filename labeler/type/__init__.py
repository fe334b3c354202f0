"""Type: faces, styles, words into lines, and what fits."""

__all__ = ("faces", "finish", "packed", "setting", "styles")
