"""Transit: a box with a pack and a cargo in moving outside air, what it does to a garden and its ants, and the risk."""
