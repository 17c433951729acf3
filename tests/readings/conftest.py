"""What the commands compute of the same inputs is computed once."""

from tests.helpers.computed_once import computed_once  # noqa: F401 -- for all tests of this room
