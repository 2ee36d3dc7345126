"""The press cycle: what a batch's log says of pressure, gel and vapor."""
