"""Values held to limits, and what stands behind them."""
