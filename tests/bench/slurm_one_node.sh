#!/usr/bin/env bash
# The workflow on a real Slurm of one node: slurm_nodes.py with one node, and see there what it needs.
#
#   PATH=.venv/bin:$PATH tests/bench/slurm_one_node.sh                         # as root; five sessions, two to a job
#   PATH=.venv/bin:$PATH tests/bench/slurm_one_node.sh 300 job_minutes=2       # so many, in jobs of so many minutes
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")/../.." && pwd)
export PYTHONPATH="$here/pipeline${PYTHONPATH:+:$PYTHONPATH}"
exec python "$here/tests/bench/slurm_nodes.py" 1 "${1:-5}" "${2:-sessions_per_job=2}"
