"""Practising: what to do next, from what was heard. Pure: values in, values out."""
