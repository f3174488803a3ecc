# All sessions of the study in one place.


rule cohort:
    input:
        lambda wildcards: plan.session_results(
            checkpoints,
            "strides.parquet",
            "summary.parquet",
            "comparison.parquet",
            "curves.parquet",
            "quality.json",
        ),
    output:
        plan.cohort_files,
    log:
        plan.log("cohort"),
    params:
        study=plan.study,
        results=plan.results,
        settings=lambda wildcards: plan.settings_for("study"),
        source=plan.source("steps.cohort"),
    shell:
        "{sys.executable:q} -m firstrocker cohort --study {params.study:q} --results {params.results:q}"
        " --settings {params.settings:q} > {log:q} 2>&1"
