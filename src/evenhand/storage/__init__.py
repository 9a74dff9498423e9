"""Where a studio is kept: one database and one folder of recordings."""
