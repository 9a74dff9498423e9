"""Writing exercises: by properties, in short covering sets, in order of difficulty."""
