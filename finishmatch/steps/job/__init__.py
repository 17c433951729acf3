"""The record of a job: it is opened, listed and shown; what was poured, sprayed, read and noted is recorded in it."""
