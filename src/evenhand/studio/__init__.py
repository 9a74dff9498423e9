"""One teacher's students, weeks, takes and recordings: kept, heard in the background, shown."""
