# Days at home: each person's days, trends and alerts, and one page for the morning. Made when asked for, for a study of
# visits has no use of it: `snakemake digest ...`, or `all digest`. What came into the inbox, where there is one: nightly.smk.


rule trend:
    input:
        lambda wildcards: plan.wait_for_sessions(checkpoints),
    output:
        days=plan.nightly("days.parquet"),
        trends=plan.nightly("trends.parquet"),
        alerts=plan.nightly("alerts.parquet"),
    log:
        plan.log("trend"),
    params:
        study=plan.study,
        results=plan.results,
        sessions=lambda wildcards: plan.sessions_stamp(checkpoints),
        settings=plan.settings_for("study", "trend"),
        source=plan.source("steps.trend"),
    shell:
        "exec {sys.executable:q} -m firstrocker --within {plan.results:q} trend --study {params.study:q}"
        " --results {params.results:q} --settings {params.settings:q} > {log:q} 2>&1"


rule digest:
    input:
        lambda wildcards: plan.wait_for_sessions(checkpoints),
        rules.trend.output,
        rules.courses.output,
    output:
        plan.nightly("digest.html"),
    log:
        plan.log("digest"),
    params:
        study=plan.study,
        results=plan.results,
        sessions=lambda wildcards: plan.sessions_stamp(checkpoints),
        intake=lambda wildcards: plan.intake_stamp(checkpoints),
        settings=plan.settings_for("study", "trend"),
        source=plan.source("steps.digest"),
    shell:
        "exec {sys.executable:q} -m firstrocker --within {plan.results:q} digest --study {params.study:q}"
        " --results {params.results:q} --settings {params.settings:q} > {log:q} 2>&1"
