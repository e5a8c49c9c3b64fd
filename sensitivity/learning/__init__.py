"""What was seen of one finished part, and what that says of it and of the physics."""
