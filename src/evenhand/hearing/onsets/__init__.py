"""Where something begins to sound, when exactly, and how loud."""
