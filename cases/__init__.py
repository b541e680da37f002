"""Case files in, tables, pictures and files out."""
