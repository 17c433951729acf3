"""From the camera's values to CIELAB: fits on the chart, which serves, and how sure it is."""
