"""Exercise -> music on the page: MEI written here, drawn by a notation engraver, set in columns of time."""
