"""Whether the packages build, install and work in empty environments; run by hand."""
