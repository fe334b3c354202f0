"""The jig drawn from its recipe, part by part; photographs made ready for print."""

__all__ = ("engraving", "figure", "jig", "jig_photos", "photos", "recipes", "subject")
