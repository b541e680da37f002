"""The page of validation: studies, findings, figures, text."""
