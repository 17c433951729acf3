"""The shop's printed card: its layout, its print registered, and found in a photograph."""
