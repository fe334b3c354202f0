"""The jig drawn from its recipe, part by part; photographs made ready for print."""

__all__ = ("engraving", "jig", "jig_photos", "photos", "recipes", "scale", "subject")
