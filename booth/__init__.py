"""The virtual booth: invented pigments, sprayed panels, rendered photographs; for tests, benchmarks and tools.

It knows radiative transfer (held against adding-doubling) and nothing of the optics that the program uses, and is
never imported by the program.
"""
