"""The figure of a jig."""

from labeler.layout.figure.jig import draw_jig

__all__ = ["draw_jig"]
