"""Pure arithmetic in coherent SI units, one module a subject."""
