"""Between teacher and student: what the teacher plays for them, and words both ways."""
