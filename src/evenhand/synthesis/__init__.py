"""An exercise in, samples out: click, play-along, the simulated player and its truth."""
