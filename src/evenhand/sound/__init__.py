"""Exercise in, sound out: the simulated player, whose truth is known exactly."""
