"""How a photograph sees its samples, apart from what reads it: many need this, and few read a photograph."""

# a photograph that serves shows paint without its gloss, as an instrument of this geometry does («common practice»)
GEOMETRY = "45/0"
