"""What the maker makes: the catalog file, its spreadsheets, and the products they come to."""
