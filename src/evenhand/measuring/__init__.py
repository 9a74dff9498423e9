"""Hits laid on notes in, figures with their uncertainty and findings out."""
