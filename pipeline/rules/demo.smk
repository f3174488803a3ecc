# The study that a run without `--config study=...` makes for itself: an invented clinic, invented people.


checkpoint demo:
    output:
        directory(plan.demo_study),
    log:
        plan.log("demo"),
    params:
        source=plan.source("steps.demo"),
    shell:
        "exec {sys.executable:q} -m firstrocker --within {plan.results:q} demo {output:q} > {log:q} 2>&1"
