"""The steps that bring a ledger to the form this program knows; loaded by Alembic."""
