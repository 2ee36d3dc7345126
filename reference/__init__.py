"""Reference values as printed, one file a source."""
