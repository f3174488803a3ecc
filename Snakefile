# From sensor logs to a fitting decision, for every session of a study. The folders' names under pipeline/firstrocker
# tell the way; README.md tells how to run it, config/README.md what can be set.

import sys

from snakemake.utils import min_version

from firstrocker.grouping import cohort_memory_mb, cohort_minutes, courses_minutes
from firstrocker.workflow import plan_run

min_version("9.0")


configfile: f"{workflow.basedir}/config/config.yaml"


plan = plan_run(config, home=workflow.basedir, run=workflow)


wildcard_constraints:
    part=plan.part,


include: "pipeline/rules/demo.smk"
include: "pipeline/rules/nightly.smk"
include: "pipeline/rules/session.smk"
include: "pipeline/rules/course.smk"
include: "pipeline/rules/cohort.smk"
include: "pipeline/rules/trend.smk"
include: "pipeline/rules/validate.smk"


rule all:
    default_target: True
    input:
        lambda wildcards: plan.parts_done(checkpoints),
        rules.courses.output,
        rules.cohort.output,
        # Whoever fills an inbox reads one page in the morning.
        rules.digest.output if plan.inbox else [],
    localrule: True


onstart:
    plan.stop_promptly()


onsuccess:
    plan.tell()


onerror:
    plan.tell(failed=True)
