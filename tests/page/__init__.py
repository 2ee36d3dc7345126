"""The report page, its text and how a browser shows and prints it."""
