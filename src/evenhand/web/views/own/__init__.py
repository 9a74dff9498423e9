"""What a student sees of their own over the weeks."""
