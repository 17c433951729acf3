"""What is handed over: plots, and a match or a job as a document."""
