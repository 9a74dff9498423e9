"""A student's weeks: progress, path, plan, load, sheet."""
