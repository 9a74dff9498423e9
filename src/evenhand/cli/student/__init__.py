"""Commands for one student: tests, ceiling, path, plan, progress, load, sheet."""
