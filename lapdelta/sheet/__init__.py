"""Saying and sharing a finding: sentences, and one page for a phone or a printer."""
