"""Films: frames in, a few of them and the coloured patches of all of them out."""
