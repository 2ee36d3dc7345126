"""Values with units and uncertainty: the ground that every room stands on."""
