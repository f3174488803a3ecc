# One person over several sessions. A job of its own, so that no session waits for another.


rule course:
    input:
        lambda wildcards: plan.person_results(
            wildcards, checkpoints, "summary.parquet", "quality.json"
        ),
    output:
        plan.person_file("course.html"),
    log:
        plan.person_log("course"),
    params:
        person=plan.person_file(""),
        sessions=lambda wildcards: plan.sessions_of(wildcards, checkpoints),
        settings=lambda wildcards: plan.settings_for("study"),
        source=plan.source("steps.course"),
    shell:
        "{sys.executable:q} -m firstrocker course --person {params.person:q} --sessions {params.sessions:q}"
        " --settings {params.settings:q} > {log:q} 2>&1"
