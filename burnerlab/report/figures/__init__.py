"""The figures of sheets, notebooks and pages."""
