"""A bank made from a face that has no editor for its files: its tins, its panels as they are weighed, how it stands."""
