"""The judgement of the coats: quantity, hiding, sheen, law and booth air. Frozen dataclasses in, the same out."""
