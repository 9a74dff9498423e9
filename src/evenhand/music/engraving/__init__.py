"""An exercise engraved: lines of music with the place of each note."""
