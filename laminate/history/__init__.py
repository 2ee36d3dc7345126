"""Many batches: their records over time, and what was achieved against what was predicted."""
