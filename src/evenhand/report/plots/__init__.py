"""Pictures as SVG, each with its words."""
