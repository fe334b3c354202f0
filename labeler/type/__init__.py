"""Type: faces, styles, words into lines, and what fits."""

__all__ = ("faces", "finish", "setting", "styles")
