"""The catalog as a book for dealers and buyers, its order form, and the pages that codes lead to."""
