"""Takes as pages show them, corrected by hand, and two side by side."""
