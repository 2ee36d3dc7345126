"""Complete cases of an invented scenario."""
