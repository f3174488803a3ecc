# The sessions: logs to strides, strides to summary, comparison, report and letter. One job makes many sessions, for a process
# costs more to start than a session to compute; each session is made by itself, and only what is out of date of it
# (pipeline/firstrocker/stamps.py). A checkpoint, so that what follows waits for the parts without naming them: which
# parts there are differs from run to run.


checkpoint sessions:
    output:
        touch(plan.part_done),
    log:
        plan.log("sessions/{part}"),
    threads: plan.threads
    resources:
        mem_mb=lambda wildcards, attempt, threads: plan.jobs_of(
            wildcards.part
        ).memory_mb(wildcards.part, threads, attempt),
        runtime=lambda wildcards, attempt, threads: plan.jobs_of(
            wildcards.part
        ).minutes(wildcards.part, threads, attempt),
    params:
        study=plan.study,
        results=plan.results,
        loggers=plan.loggers,
        settings=plan.settings_for("signals", "day", "motion", "gait", "bids", "study"),
        source=plan.source(
            "steps.strides", "steps.study", "steps.report", "steps.letter"
        ),
        unwatched=plan.unwatched,
        told=lambda wildcards: plan.told(wildcards.part),
    message:
        "sessions: {params.told}"
    shell:
        "exec {sys.executable:q} -m firstrocker --within {plan.results:q} sessions --study {params.study:q}"
        " --results {params.results:q} --loggers {params.loggers:q} --settings {params.settings:q}"
        " --part {wildcards.part} --processes {threads} --log {log:q} {params.unwatched}"
