"""The path: its stages, and what must be heard to go on."""
