"""The studio's words in English, a module a place."""
