"""The catalog as a book for dealers and buyers, its order form, and the pages codes lead to."""
