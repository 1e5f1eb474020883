"""Output of the command line: tables, sentences and progress, in 80 columns, without colour."""
