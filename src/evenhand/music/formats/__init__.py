"""Music from and for other programs."""
