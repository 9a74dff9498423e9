"""Commands for a studio: serve, check, backup, restore, export, import."""
