"""The clinic's page: hand a session in, watch it run, read the report.

Everything a page shows was made by the same workflow that the command line runs: this part only lays study folders out,
starts the workflow on them and shows what it made.
"""
