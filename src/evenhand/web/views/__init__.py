"""What each route answers."""
