"""Kinds of columns, and rows that stand beside others: versions of what was heard."""
