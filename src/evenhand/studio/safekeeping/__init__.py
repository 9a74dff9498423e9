"""Export and import, backup and restore, checking and repairing."""
