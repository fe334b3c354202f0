"""A PDF read by its own operators: its objects, fonts and outlines, and what its content draws."""
