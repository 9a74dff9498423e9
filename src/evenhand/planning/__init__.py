"""The next practice: exercises that load what was weak, and a week that adds up to the second."""
