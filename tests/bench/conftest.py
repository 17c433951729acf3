"""The bench page in this process, on a ledger of the test's own."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from httpx2 import Response
from playwright.sync_api import Browser as Chromium
from starlette.testclient import TestClient

from finishmatch.bench.app import bench_app
from finishmatch.bench.bench import Bench, Served
from tests.bench.screens import chromium
from tests.helpers.computed_once import computed_once  # noqa: F401 -- for all tests of this room

HOSTS = frozenset({"127.0.0.1", "localhost", "[::1]"})


@dataclass
class Browser:
    """A browser that shows the page and sends its forms."""

    client: TestClient
    bench: Bench

    def get(self, path: str, **options: Any) -> Response:
        """Open a page."""
        headers = {"accept": "text/html", **options.pop("headers", {})}
        return self.client.get(path, headers=headers, **options)

    def text(self, path: str) -> str:
        """Return a page that is there."""
        answer = self.get(path)
        assert answer.status_code == 200, (path, answer.status_code, answer.text)
        return answer.text

    def post(self, path: str, fields: dict[str, Any] | None = None, **options: Any) -> Response:
        """Send a form with its token, and follow to where it leads."""
        headers = {"accept": "text/html", **options.pop("headers", {})}
        return self.client.post(path, data={"token": self.token, **(fields or {})}, headers=headers, **options)

    @property
    def token(self) -> str:
        """What this browser's forms bring along."""
        found = re.search(r'data-token="([0-9a-f]*)"', self.text("/devices"))
        assert found
        return found[1]


Opened = Callable[..., Browser]


@pytest.fixture(scope="package")
def chromium_() -> Iterator[Chromium]:
    """A real browser, one for all tests of this room that a process runs in a row; each has a context of its own."""
    with chromium() as found:
        yield found


@pytest.fixture
def opened(home: Path) -> Iterator[Opened]:
    """Open a browser on the bench page: this machine's, or one of the shop's network."""
    clients = []

    def open_(*, lan: bool = False, bench: Bench | None = None, **served: Any) -> Browser:
        found = bench or Bench(Served(home, HOSTS, lan, "http://127.0.0.1:8420", **served))
        client = TestClient(bench_app(found), base_url="http://127.0.0.1:8420", raise_server_exceptions=True)
        client.__enter__()
        clients.append(client)
        return Browser(client, found)

    yield open_
    for client in clients:
        client.__exit__(None, None, None)


@pytest.fixture
def browser(opened: Opened) -> Browser:
    """A browser on this machine."""
    return opened()
