"""Takes heard, one or many, and what is written of them."""
