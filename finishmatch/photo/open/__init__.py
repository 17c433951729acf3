"""A picture file opened: decoded upright, its colour profile undone."""
