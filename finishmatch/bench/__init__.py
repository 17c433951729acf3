"""The bench page: a second face beside the terminal, for a phone or a tablet beside the scale. It calls steps only."""
