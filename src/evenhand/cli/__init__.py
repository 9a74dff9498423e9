"""The command line: one file a command, over the application's acts."""
