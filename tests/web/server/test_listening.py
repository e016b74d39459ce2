"""Large requests: taken in, or refused by a page that says how large one may be."""

from collections.abc import Iterator

import pytest

from ..conftest import write_notebook
from ..processes import Server, serving

PICTURES = "/cases/20260318-k7f2/pictures"


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    with serving(write_notebook(tmp_path_factory.mktemp("large") / "notebook")) as (one,):
        yield one


@pytest.mark.parametrize(
    ("path", "megabytes", "status", "said"),
    [
        pytest.param(PICTURES, 12, 400, "This form was opened before", id="photographs-of-a-telephone"),
        pytest.param(PICTURES, 61, 413, "Photographs may have 60 MB together", id="too-many"),
        pytest.param("/import", 50, 413, "a list 5 MB", id="a-long-list"),
    ],
)
def test_large_request_is_taken_in_or_refused_by_a_page(
    server: Server, path: str, megabytes: int, status: int, said: str
) -> None:
    """Without the form's token nothing of it is kept, but all of it was read."""
    head = b'--x\r\nContent-Disposition: form-data; name="pictures"; filename="a.png"\r\n\r\n'
    body = head + bytes(megabytes * 1_000_000) + b"\r\n--x--\r\n"
    with server.connected() as connection:
        connection.request("POST", path, body, {"Content-Type": "multipart/form-data; boundary=x"})
        response = connection.getresponse()
        assert response.status == status
        assert said in response.read().decode()
