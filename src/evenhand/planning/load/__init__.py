"""What each hand plays week by week, and how much sound an ear gets."""
