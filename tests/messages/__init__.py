"""What the program says of mistakes."""
