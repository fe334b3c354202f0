"""What is held against each finished piece: one topic a file.

A rule's id, its numbers and its source stand in ``rules.toml``; here stands how it is looked for.
"""
