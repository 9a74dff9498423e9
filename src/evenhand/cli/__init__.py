"""One file a command, over the same acts."""
