"""Signatures of a record in the OpenSSH format, who may sign what, and their proof."""
