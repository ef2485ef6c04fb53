"""Mutated scenes and command lines, all of which must end in a picture or in one sentence; killed sweeps."""
