"""Values in, sentences out; the one place where figures become prose."""
