"""Pictures of a finding, one a file; each function takes a finding and returns an Altair chart."""
