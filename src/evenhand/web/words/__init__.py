"""Words of the pages."""
