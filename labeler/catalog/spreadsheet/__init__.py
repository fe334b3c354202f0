"""Lists of products as people keep them, with all that spreadsheets do to them.

``mapped`` reads a maker's own spreadsheet as ``[spreadsheet]`` says; ``propose`` finds out, from a
file that nobody has described, what that table should say.
"""

__all__ = ("cells", "grid", "mapped", "own_cells", "propose")
