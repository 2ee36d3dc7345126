"""The press cycle: logged curves and planned ones to the verdict whether it pressed in time."""
