# The page of each person with several sessions. Apart from the sessions, so that no session waits for another.


rule courses:
    input:
        lambda wildcards: plan.wait_for_sessions(checkpoints),
    output:
        touch(plan.courses_done),
    log:
        plan.log("courses"),
    resources:
        runtime=lambda wildcards, attempt: courses_minutes(plan.study, attempt),
    params:
        study=plan.study,
        results=plan.results,
        sessions=lambda wildcards: plan.sessions_stamp(checkpoints),
        settings=plan.settings_for("study"),
        source=plan.source("steps.course"),
    shell:
        "exec {sys.executable:q} -m firstrocker --within {plan.results:q} courses --study {params.study:q}"
        " --results {params.results:q} --settings {params.settings:q} > {log:q} 2>&1"
