"""What lies in a photograph: the chart, and the regions whose colour is asked for."""
