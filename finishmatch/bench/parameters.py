"""What may stand in an address."""

from __future__ import annotations

from typing import Annotated

from fastapi import Path, Query

JobRef = Annotated[str, Path(pattern=r"^J[1-9][0-9]{0,8}$", description="The ref of a job, as J1.")]
BankRef = Annotated[str, Path(pattern=r"^B[0-9a-f]{10}$", description="The ref of a bank, as B0123456789.")]
EntryNumber = Annotated[int, Path(ge=1, le=10**9, description="The number of an entry.")]
After = Annotated[int, Query(ge=0, le=10**9, description="The number of the last entry that is known.")]
PageNumber = Annotated[int, Query(ge=1, le=100_000)]
