"""The virtual booth: invented pigments, sprayed panels, rendered photographs; for tests, benchmarks, the demo."""
