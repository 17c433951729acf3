"""The recipe: which tints, in what grams, to match a target; every subset searched, the best refined in all lights."""
