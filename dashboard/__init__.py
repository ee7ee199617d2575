"""The pages: what the command line does, in the browser, on this machine only. No number is computed here."""
