"""Drops of the stick: how freely it rebounds."""
