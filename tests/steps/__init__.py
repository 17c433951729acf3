"""Tests of the steps: what the faces call, with and without a job."""
