"""The judgement of colour: target, recipe, verdict, correction. Arrays and frozen dataclasses in, the same out."""
