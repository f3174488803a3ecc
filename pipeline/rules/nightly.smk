# What loggers put into an inbox by day and night: whole sessions are taken into the study before anything else is done.
# Only with `--config inbox=PATH`. The inbox is looked at in every run, for its mark holds for one run only; a checkpoint,
# for which sessions there are is known after it. Rules over what came in night after night: trend.smk.


checkpoint intake:
    output:
        touch(plan.looked),
    log:
        plan.log("intake"),
    localrule: True
    params:
        inbox=plan.inbox,
        study=plan.study,
        results=plan.results,
        settings=plan.settings_for("nightly"),
        source=plan.source("steps.intake"),
    shell:
        "exec {sys.executable:q} -m firstrocker --within {plan.results:q} intake --inbox {params.inbox:q}"
        " --study {params.study:q} --results {params.results:q} --settings {params.settings:q} > {log:q} 2>&1"
