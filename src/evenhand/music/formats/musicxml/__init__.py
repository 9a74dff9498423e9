"""MusicXML, both ways."""
