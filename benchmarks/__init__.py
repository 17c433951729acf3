"""The virtual booth and what is measured with it: a test dependency, never imported by the product."""
