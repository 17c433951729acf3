"""A photograph as a reading: opened, the chart or card found in it, its colours corrected, regions read."""
