"""A sweep over a Dask cluster of two workers gives the numbers of this process."""

import warnings
from pathlib import Path

import pytest
from polars.testing import assert_frame_equal
from sample_archive import make_archive

from lapdelta.asking.sweep import sweep


# Dask leaves sockets and loops of its own to the garbage collector when it shuts down.
@pytest.mark.filterwarnings("ignore::ResourceWarning")
@pytest.mark.filterwarnings("ignore::DeprecationWarning")
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_a_cluster_of_two_workers_gives_the_same_numbers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its imports warn about what is theirs
        from distributed import Client, LocalCluster
    archive = make_archive(tmp_path / "kept")
    root = str(Path(__file__).parent.parent.parent)
    monkeypatch.setenv("PYTHONPATH", root)
    place = tmp_path / "dask"
    with (
        LocalCluster(
            n_workers=2, threads_per_worker=1, dashboard_address=None, host="127.0.0.1", local_directory=place
        ) as cluster,
        Client(cluster) as client,
        client.get_executor() as executor,
    ):
        assert len(client.scheduler_info()["workers"]) == 2
        found = sweep(archive, executor=executor)
    assert found.height > 1
    assert_frame_equal(found, sweep(archive))
