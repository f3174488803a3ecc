"""A study in S3-compatible storage, fetched, run, and its results put back: the same bytes as of a run without?

    pip install snakemake-storage-plugin-s3 'moto[server]'
    python tests/bench/s3_store.py

The server is moto's, on this machine: it speaks S3's protocol and keeps everything in memory. That says nothing of a
real store's speed, limits or permissions.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(TESTS))

from workflow.runs import REPOSITORY, fingerprints, snakemake  # noqa: E402
from workflow.small_study import write_session  # noqa: E402

BUCKET = "study-of-nobody"
KEYS = {"ACCESS_KEY": "nobody", "SECRET_KEY": "nobody"}


def main() -> None:
    """Print what was carried, and whether the bytes are the same."""
    place = Path(tempfile.mkdtemp(prefix="firstrocker-"))
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = subprocess.Popen(
        [sys.executable, "-m", "moto.server", "-p", str(port)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    try:
        _run(place, f"http://127.0.0.1:{port}")
    finally:
        server.kill()
        server.wait()
        shutil.rmtree(place, ignore_errors=True)


def _run(place: Path, endpoint: str) -> None:
    import boto3

    store = boto3.client(
        "s3",
        endpoint_url=endpoint,
        region_name="us-east-1",
        aws_access_key_id=KEYS["ACCESS_KEY"],
        aws_secret_access_key=KEYS["SECRET_KEY"],
    )
    for _ in range(100):
        try:
            store.create_bucket(Bucket=BUCKET)
            break
        except Exception:
            time.sleep(0.2)  # the server is not there yet
    here, there = place / "here", place / "there"
    for seed, person in enumerate(("P01", "P02")):
        write_session(here / "study", person, seed=seed, walks="a")
    files = [path for path in sorted((here / "study").rglob("*")) if path.is_file()]
    for path in files:
        store.upload_file(str(path), BUCKET, f"study/{path.relative_to(here / 'study').as_posix()}")
    print(f"{len(files)} files of a study put into a bucket", flush=True)

    local = snakemake(here, "--config", "study=study", "results=results")
    if local.status:
        raise SystemExit(local.text)
    there.mkdir()
    carried = _staged(there, endpoint, "fetch", f"study={there / 'study'}")
    print(f"fetched: {carried} files", flush=True)
    run = snakemake(there, "--config", "study=study", "results=results")
    if run.status:
        raise SystemExit(run.text)
    for words in ("put back", "the same once more"):
        carried = _staged(there, endpoint, "put", f"results={there / 'results'}")
        print(f"{words}: {carried} files", flush=True)

    wanted = {name: sha for name, sha in fingerprints(here / "results").items() if not name.startswith("logs/")}
    back = place / "back"
    for item in store.list_objects_v2(Bucket=BUCKET, Prefix="results/")["Contents"]:
        path = back / item["Key"].removeprefix("results/")
        path.parent.mkdir(parents=True, exist_ok=True)
        store.download_file(BUCKET, item["Key"], str(path))
    got = fingerprints(back)
    same = got == wanted
    told = "the same bytes" if same else "OTHERS"
    print(f"{len(wanted)} results of a run without storage, {len(got)} in the bucket: {told}")
    raise SystemExit(0 if same else 1)


def _staged(place: Path, endpoint: str, target: str, path: str) -> int:
    """Run one half of the staging workflow; returns how many files it carried."""
    keys = {f"SNAKEMAKE_STORAGE_S3_{name}": value for name, value in KEYS.items()}
    keys["SNAKEMAKE_STORAGE_S3_ENDPOINT_URL"] = endpoint
    done = subprocess.run(
        [
            *(sys.executable, "-m", "snakemake", "--snakefile", str(REPOSITORY / "config" / "storage" / "s3.smk")),
            *(target, "--cores", "2", "--config", f"bucket={BUCKET}", path),
        ],
        cwd=place,
        env=os.environ | keys,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        check=False,
    )
    if done.returncode:
        raise SystemExit(done.stdout)
    return done.stdout.count("(Rule: fetch_file)") + done.stdout.count("(Rule: put_file)")


if __name__ == "__main__":
    main()
