# How wrong the measures are on walks whose truth is known: `snakemake --cores 2 validate`.


rule validate:
    input:
        lambda wildcards: plan.no_files(),
    output:
        f"{plan.results}/accuracy.md",
    log:
        plan.log("validate"),
    threads: plan.threads
    params:
        source=plan.source("steps.validate"),
    shell:
        "exec {sys.executable:q} -m firstrocker --within {plan.results:q} validate "
        "--processes {threads} --out {output:q} 2> {log:q}"
