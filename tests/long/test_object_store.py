"""A copy of an archive in an object store is read as it is; a mock server of S3 on this machine stands for one."""

import warnings
from collections.abc import Iterator
from pathlib import Path

import pytest
from polars.testing import assert_frame_equal
from sample_archive import DAYS, make_archive

from lapdelta.archive import Archive
from lapdelta.asking.sweep import sweep
from lapdelta.cli.main import run
from lapdelta.errors import ArchiveError

pytestmark = [
    # The mock server and the client that fills it warn about what is theirs.
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]


@pytest.fixture
def address(monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from moto.server import ThreadedMotoServer
    server = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    server.start()
    host, port = server.get_host_and_port()
    known = {"ACCESS_KEY_ID": "x", "SECRET_ACCESS_KEY": "x", "REGION": "eu-west-1", "ALLOW_HTTP": "true"}
    for name, value in {**known, "ENDPOINT_URL": f"http://{host}:{port}"}.items():
        monkeypatch.setenv(f"AWS_{name}", value)
    yield f"http://{host}:{port}"
    server.stop()


def upload(folder: Path, address: str) -> None:
    import boto3

    client = boto3.client("s3", endpoint_url=address, region_name="eu-west-1")
    client.create_bucket(Bucket="club", CreateBucketConfiguration={"LocationConstraint": "eu-west-1"})
    for path in folder.rglob("*"):
        if path.is_file():
            client.upload_file(str(path), "club", f"kept/{path.relative_to(folder).as_posix()}")


def test_an_archive_in_an_object_store_is_read_and_not_written(
    tmp_path: Path, address: str, capsys: pytest.CaptureFixture[str]
) -> None:
    kept = make_archive(tmp_path / "kept")
    upload(kept.folder, address)
    there = Archive("s3://club/kept/")
    assert there.location == "s3://club/kept"
    assert_frame_equal(there.laps(DAYS[0]), kept.laps(DAYS[0]))
    assert_frame_equal(there.sessions(), kept.sessions())
    assert_frame_equal(there.setups, kept.setups)
    assert_frame_equal(there.history(), kept.history())
    assert_frame_equal(sweep(there, events=[DAYS[0]]), sweep(kept, events=[DAYS[0]]))
    for refused in (lambda: there.put_event(DAYS[0], notes="x"), there.check, lambda: there.put_units("psi")):
        with pytest.raises(ArchiveError, match="can only be read"):
            refused()
    with pytest.raises(ArchiveError, match="no archive here"):
        Archive("s3://club/nothing")
    assert run(["sessions", "--archive", "s3://club/kept"]) == 0
    assert DAYS[0] in capsys.readouterr().out
    assert not Path("s3:").exists()
