"""Pages as a PDF: of labels and cards by their plan, of a book leaf by leaf."""

__all__ = ("book", "run")
