"""The whole record in one file, and back."""
