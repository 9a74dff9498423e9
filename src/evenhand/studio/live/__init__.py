"""Takes heard live, in processes of their own."""
