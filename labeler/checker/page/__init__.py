"""A page as it is looked at: type, shapes, pictures, codes, and the sides of pieces on it."""
