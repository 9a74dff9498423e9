"""What people do, one file an act: open what was given, hear it, measure it, and give the answer."""
