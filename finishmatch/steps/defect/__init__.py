"""A defect of the finish: logged, advised on, traced; what is suspect; what sanding takes off in this shop."""
