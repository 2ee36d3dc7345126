"""The sealed record."""
