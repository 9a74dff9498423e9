"""Work: takes that wait are heard by processes beside the server."""
