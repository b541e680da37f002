"""From a case file to a checked case and its problem: the parameters, their schema, reader and errors."""
