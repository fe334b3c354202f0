"""Type: faces, styles, words into lines, and what fits."""
