# A study fetched from S3-compatible storage, and results put there: what stands before and after an ordinary run, which
# works on folders of its machine. Needs `pip install snakemake-storage-plugin-s3`; where the store is, and the keys, stand in
# SNAKEMAKE_STORAGE_S3_ENDPOINT_URL, _ACCESS_KEY and _SECRET_KEY. See config/README.md, "S3".
#
#   snakemake --snakefile config/storage/s3.smk fetch --config bucket=NAME study=PATH
#   snakemake --snakefile config/storage/s3.smk put   --config bucket=NAME results=PATH
#
# Only objects that are newer than the file, or files newer than the object, are carried.

import os
from pathlib import Path

import boto3


storage s3:
    provider="s3",
    retries=3,


BUCKET = f"s3://{config['bucket']}"
STUDY, RESULTS = config.get("study", "study"), config.get("results", "results")
HIDDEN = r"(?!\.)[^/]+(?:/(?!\.)[^/]+)*"  # no part of a path begins with a dot: what the programs remember stays here


wildcard_constraints:
    path=HIDDEN,


def in_bucket():
    """Every object of the study; the plugin itself cannot list a bucket (seen with 0.3.6)."""
    given = {
        name: os.environ.get(f"SNAKEMAKE_STORAGE_S3_{name}")
        for name in ("ENDPOINT_URL", "ACCESS_KEY", "SECRET_KEY")
    }
    store = boto3.resource(
        "s3",
        endpoint_url=given["ENDPOINT_URL"],
        aws_access_key_id=given["ACCESS_KEY"],
        aws_secret_access_key=given["SECRET_KEY"],
    )
    found = store.Bucket(config["bucket"]).objects.filter(Prefix="study/")
    return sorted(
        item.key.removeprefix("study/") for item in found if not item.key.endswith("/")
    )


def in_results():
    files = (
        path.relative_to(RESULTS) for path in Path(RESULTS).rglob("*") if path.is_file()
    )
    return sorted(
        path.as_posix()
        for path in files
        if not any(part.startswith(".") for part in path.parts)
    )


rule fetch:
    input:
        lambda wildcards: [f"{STUDY}/{path}" for path in in_bucket()],


rule put:
    input:
        lambda wildcards: [
            storage.s3(f"{BUCKET}/results/{path}") for path in in_results()
        ],


rule fetch_file:
    input:
        storage.s3(f"{BUCKET}/study/{{path}}"),
    output:
        f"{STUDY}/{{path}}",
    shell:
        "cp {input:q} {output:q}"


rule put_file:
    input:
        f"{RESULTS}/{{path}}",
    output:
        storage.s3(f"{BUCKET}/results/{{path}}"),
    shell:
        "cp {input:q} {output:q}"
