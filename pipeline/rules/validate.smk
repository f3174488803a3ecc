# How wrong the measures are on walks whose truth is known: `snakemake --cores 2 validate`.


rule validate:
    output:
        f"{plan.results}/accuracy.md",
    log:
        plan.log("validate"),
    params:
        source=plan.source("steps.validate"),
    shell:
        "{sys.executable:q} -m firstrocker validate --out {output:q} 2> {log:q}"
