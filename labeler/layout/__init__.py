"""What goes where: a template and a product become a piece, marks at fixed places."""
