"""Entry at the bench without its screen: table on the disk, lock, one cell, one session."""
