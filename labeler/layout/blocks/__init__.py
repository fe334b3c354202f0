"""The blocks of a layout, one kind a file."""
