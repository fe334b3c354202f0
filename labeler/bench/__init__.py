"""The maker's whole jobs as functions: what the command line and the web page call.

Nothing here prints or exits; a job returns what it did, or raises a LabelerError.
"""
