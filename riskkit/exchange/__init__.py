"""Values out in open formats: JSON, SARIF, JSON Schema, reference pages. Never a second model, never a file."""
