"""What was heard and its music in; sentences, pictures, pages and prints out."""
