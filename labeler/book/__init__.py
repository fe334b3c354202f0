"""The catalog as a book for dealers and buyers, its order form, and the pages codes lead to.

For the maker the book is the catalog; in here a catalog is what the folder holds, so it is a book.
"""

__all__ = ("edition", "make", "order", "order_sheet", "site", "typesetting")
