"""A library to practise from: tracks of exercises, made by rule, in order of measured difficulty."""
