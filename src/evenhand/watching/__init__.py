"""What is seen of the sticks in a film: patches of colour and hits in, strokes with heights out."""
