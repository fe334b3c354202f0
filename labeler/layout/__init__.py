"""What goes where: a template and a product become a piece, marks at fixed places."""

__all__ = (
    "alike", "block", "canonical", "compose", "drawn_blocks", "facts", "index", "swatch",
    "text_blocks",
)  # fmt: skip
