# All sessions of the study in one place.


rule cohort:
    input:
        lambda wildcards: plan.wait_for_sessions(checkpoints),
    output:
        plan.cohort_files,
    log:
        plan.log("cohort"),
    resources:
        mem_mb=lambda wildcards, attempt: cohort_memory_mb(plan.study, attempt),
        runtime=lambda wildcards, attempt: cohort_minutes(plan.study, attempt),
    params:
        study=plan.study,
        results=plan.results,
        sessions=lambda wildcards: plan.sessions_stamp(checkpoints),
        settings=plan.settings_for("study"),
        source=plan.source("steps.cohort"),
    shell:
        "exec {sys.executable:q} -m firstrocker --within {plan.results:q} cohort --study {params.study:q}"
        " --results {params.results:q} --settings {params.settings:q} > {log:q} 2>&1"
