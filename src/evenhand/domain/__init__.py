"""The words of the trade as frozen values. Standard library only."""
