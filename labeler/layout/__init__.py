"""What goes where: a template and a product become a piece, marks at fixed places."""

__all__ = ("block", "compose", "drawn", "drawn_blocks", "facts", "index", "text_blocks")
