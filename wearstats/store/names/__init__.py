"""What is named in more than one way: names that stand for others, and names that look alike."""
