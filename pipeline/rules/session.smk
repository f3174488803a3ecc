# One session: logs to strides, strides to summary, comparison, report and letter. Two jobs and not one, so that a
# setting of the comparison leaves the strides alone; not three, for a process costs more to start than a comparison to
# compute.


rule strides:
    input:
        lambda wildcards: plan.session_inputs(wildcards, checkpoints),
    output:
        strides=plan.session_file("strides.parquet"),
        curves=plan.session_file("curves.parquet"),
        quality=plan.session_file("quality.json"),
        evidence=plan.session_file("evidence.json"),
    log:
        plan.session_log("strides"),
    params:
        session=f"{plan.study}/sub-{{subject}}/ses-{{session}}",
        out=plan.session_file(""),
        loggers=plan.loggers,
        settings=lambda wildcards: plan.settings_for("signals", "motion", "gait", "bids"),
        written=lambda wildcards: plan.session_stamp(wildcards, checkpoints),
        source=plan.source("steps.strides"),
    shell:
        "{sys.executable:q} -m firstrocker strides --session {params.session:q} --out {params.out:q}"
        " --loggers {params.loggers:q} --settings {params.settings:q} > {log:q} 2>&1"


rule study:
    input:
        strides=rules.strides.output.strides,
        curves=rules.strides.output.curves,
        quality=rules.strides.output.quality,
        evidence=rules.strides.output.evidence,
    output:
        summary=plan.session_file("summary.parquet"),
        comparison=plan.session_file("comparison.parquet"),
        report=plan.session_file("report.html"),
        letter=plan.session_file("letter.html"),
    log:
        plan.session_log("study"),
    params:
        results=plan.session_file(""),
        follow_up=lambda wildcards: plan.follow_up(wildcards, checkpoints),
        settings=lambda wildcards: plan.settings_for("study"),
        source=plan.source("steps.study", "steps.report", "steps.letter"),
    shell:
        "{sys.executable:q} -m firstrocker study --results {params.results:q} {params.follow_up}"
        " --settings {params.settings:q} > {log:q} 2>&1"
