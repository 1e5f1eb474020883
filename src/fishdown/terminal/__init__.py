"""What the command line prints: tables, sentences and progress, for 80 columns and no colour."""
