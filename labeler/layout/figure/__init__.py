"""The figure of a jig."""

from labeler.drawing.jig import draw_jig

__all__ = ["draw_jig"]
