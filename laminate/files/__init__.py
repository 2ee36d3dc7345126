"""Files to checked models that know their places."""
