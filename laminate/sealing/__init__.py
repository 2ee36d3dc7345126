"""What a record holds and how it is told from another."""
