"""The maker's memory: lots, what went into them, what was printed and where it was shipped."""
