"""What is seen of the sticks in a film: patches of colour and the hits' times in, strokes with their heights out."""
