"""The pages of the desk, each beside its templates."""
