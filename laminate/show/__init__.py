"""Results to JSON and HTML; no arithmetic."""
