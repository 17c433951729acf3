"""How right and how fast the program is, measured beside its peers; never imported by the program."""
