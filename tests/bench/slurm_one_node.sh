#!/usr/bin/env bash
# The workflow on a real Slurm of one node, and whether its results are those of a local run, byte for byte.
#
#   apt-get install munge slurmctld slurmd slurm-client      # Debian's packages
#   pip install snakemake-executor-plugin-slurm
#   PATH=.venv/bin:$PATH tests/bench/slurm_one_node.sh       # as root, for slurmd starts the jobs
#   PATH=.venv/bin:$PATH tests/bench/slurm_one_node.sh 300 2 # so many short sessions, in jobs of so many minutes
#
# munged, slurmctld and slurmd run as plain processes in a temporary folder, with ports and a key of their own, and end
# with the script; only Slurm's configuration has to lie where a job looks for it, in /etc/slurm. Without
# arguments five sessions go two to a job, so that there are several jobs soon; with them they go as on a real cluster.
set -euo pipefail
sessions=${1:-5}
grouped=(sessions_per_job=2)
if [[ $# -gt 1 ]]; then grouped=(job_minutes="$2"); fi
here=$(cd "$(dirname "${BASH_SOURCE[0]}")/../.." && pwd)
export PYTHONPATH="$here/pipeline:$here/tests${PYTHONPATH:+:$PYTHONPATH}"
place=$(mktemp -d)
chmod 755 "$place"
started=()
finish() {
  if [[ $(readlink /etc/slurm/slurm.conf) == "$place/slurm.conf" ]]; then rm /etc/slurm/slurm.conf; fi
  for process in "${started[@]}"; do kill "$process" 2>/dev/null || true; done
  if [[ -z ${KEEP:-} ]]; then rm -rf "$place"; else echo "kept: $place"; fi
}
trap finish EXIT

node=$(hostname -s)
cores=$(nproc)
memory=$(awk '/^MemTotal/ {print int($2 / 1024 * 0.9)}' /proc/meminfo)
mkdir -p "$place"/{state,spool,munge}
chmod 711 "$place/munge"
head -c 1024 /dev/urandom > "$place/munge/key"
chmod 400 "$place/munge/key"
cat > "$place/slurm.conf" <<EOF
ClusterName=one
SlurmctldHost=$node
SlurmUser=root
AuthType=auth/munge
AuthInfo=socket=$place/munge/socket
CredType=cred/munge
SlurmctldPort=16817
SlurmdPort=16818
SlurmctldPidFile=$place/slurmctld.pid
SlurmdPidFile=$place/slurmd.pid
StateSaveLocation=$place/state
SlurmdSpoolDir=$place/spool
SlurmctldLogFile=$place/slurmctld.log
SlurmdLogFile=$place/slurmd.log
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
SelectType=select/cons_tres
SelectTypeParameters=CR_Core_Memory
ReturnToService=2
MinJobAge=300
NodeName=$node NodeAddr=127.0.0.1 CPUs=$cores RealMemory=$memory State=UNKNOWN
PartitionName=all Nodes=$node Default=YES MaxTime=INFINITE State=UP
EOF
if [[ -e /etc/slurm/slurm.conf ]]; then echo "this machine has a Slurm of its own: not touched" >&2 && exit 1; fi
mkdir -p /etc/slurm && ln -s "$place/slurm.conf" /etc/slurm/slurm.conf
munged --foreground --force --key-file="$place/munge/key" --socket="$place/munge/socket" --pid-file="$place/munge/pid" \
  --seed-file="$place/munge/seed" --log-file="$place/munge/log" 2> "$place/munge.log" &
started+=($!)
sleep 1
slurmctld -D > "$place/slurmctld.out" 2>&1 &
started+=($!)
slurmd -D > "$place/slurmd.out" 2>&1 &
started+=($!)
for _ in $(seq 60); do
  if sinfo -h -o %T 2>/dev/null | grep -q idle; then break; fi
  sleep 1
done
sinfo

python - "$place" "$sessions" <<'EOF'
import sys
from pathlib import Path
from bench.workflow_cost import write_study

write_study(Path(sys.argv[1]) / "study", int(sys.argv[2]))
EOF
run() { # runs the workflow in a folder of its own; the results' folder, then more arguments of Snakemake
  local results=$1
  shift
  mkdir -p "$place/$results-run"
  python -m snakemake --snakefile "$here/Snakefile" --directory "$place/$results-run" "$@" \
    --config study="$place/study" results="$place/$results" "${grouped[@]}"
}
run local --cores "$cores" > "$place/local.out" 2>&1
run slurm --profile "$here/config/profiles/slurm" --set-threads sessions=1 2>&1 | tee "$place/slurm.out"
echo "jobs that Slurm saw:"
scontrol show job --oneliner | grep -o -E "JobId=[0-9]+|JobState=[A-Z]+|NumCPUs=[0-9]+|RunTime=[0-9:]+|Comment=[^ ]+" |
  paste -s -d ' ' | sed 's/ JobId=/\nJobId=/g'
run slurm --profile "$here/config/profiles/slurm" --dry-run 2>&1 | grep "Nothing to be done"
python - "$place" <<'EOF'
import sys
from pathlib import Path
from workflow.runs import fingerprints

local, slurm = (fingerprints(Path(sys.argv[1]) / name) for name in ("local", "slurm"))
print(f"{len(local)} results by a local run, {len(slurm)} by Slurm:", "the same bytes" if local == slurm else "THEY DIFFER")
sys.exit(local != slurm)
EOF
