"""What the server tells whoever keeps it: numbered requests, lines of a log, whether it is well."""
