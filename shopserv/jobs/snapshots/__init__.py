"""Every value that a paper shows, as plain data."""
