"""A student's next week: proposed, typed, drafted, printed."""
