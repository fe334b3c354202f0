"""The maker's whole jobs as functions, one file a job: what the command line calls."""
