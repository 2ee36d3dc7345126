"""The entry screen at the bench."""
