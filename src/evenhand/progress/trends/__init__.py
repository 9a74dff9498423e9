"""Figures over the weeks."""
