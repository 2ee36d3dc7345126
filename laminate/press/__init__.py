"""The press: what laminates, cores and bladders do to each other and to the tool."""
