"""The jig drawn from its recipe, part by part; photographs made ready for print."""

__all__ = ("jig", "photos", "recipes", "subject")
