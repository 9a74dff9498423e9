"""Which hit is which note."""
