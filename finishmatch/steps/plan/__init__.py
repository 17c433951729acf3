"""From the colour to the panel: quantity, hiding, sheen, law, booth air and the day, angles; or all of it at once."""
