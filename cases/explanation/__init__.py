"""Why a ceiling is where it is."""
