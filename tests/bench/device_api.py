"""The interface for devices against its own description: requests drawn from it, right and wrong, by schemathesis.

``pip install schemathesis && python tests/bench/device_api.py``. It is not among the tests' libraries, for its plugin
takes part in every test that is collected. One check is left out: the description cannot say that walks differ from
each other or that a shoe needs a length or a size, so that some requests that fit it are refused in words.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from firstrocker.web.invitations import add_device
from web.served import Server


def main() -> int:
    """Run it on a server of its own; its exit status."""
    with TemporaryDirectory() as folder:
        server = Server(Path(folder) / "clinic").start()
        server.account("ada")
        with server.store.writing() as connection:
            token = add_device(connection, 1, "bench", who="ada")
        try:
            return subprocess.run(
                [
                    *(sys.executable, "-m", "schemathesis.cli", "run", f"{server.address}/api/v1/openapi.json"),
                    *("--header", f"Authorization: Bearer {token}", "--max-examples", "300"),
                    *("--exclude-checks", "positive_data_acceptance"),
                ],
                cwd=folder,
                check=False,
            ).returncode
        finally:
            server.stop()
            print(server.log)


if __name__ == "__main__":
    sys.exit(main())
