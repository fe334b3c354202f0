"""Words in, one call of bench, words out."""
