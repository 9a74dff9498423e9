"""A studio's database and its recordings on disk."""
