"""What stands on a student's stand."""
