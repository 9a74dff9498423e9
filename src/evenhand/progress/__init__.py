"""What was heard over takes and weeks: drops, a minute, the ceiling, heights, trends, stages, load."""
