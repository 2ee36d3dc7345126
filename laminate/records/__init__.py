"""Sealed records, what they hold, and the signatures on them."""
