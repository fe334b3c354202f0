"""What goes where: a template and a product become a piece, marks at fixed places."""

__all__ = ("block", "compose", "context", "disclosure_block", "facts", "index", "picture_blocks")
