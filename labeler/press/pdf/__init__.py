"""Pages as a PDF: of labels and cards by their plan, of a book leaf by leaf."""

from labeler.press.pdf.book import Binding, Draw, write_book
from labeler.press.pdf.run import write_pdf

__all__ = ["Binding", "Draw", "write_book", "write_pdf"]
