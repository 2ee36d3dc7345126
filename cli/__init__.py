"""The command line: what the engineer, the technician and quality type."""
