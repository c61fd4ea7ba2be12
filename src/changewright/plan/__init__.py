"""What to do next: skills and how they stand, the week, the lesson, the class."""
