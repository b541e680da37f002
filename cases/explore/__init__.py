"""A page from this machine in the browser: what is changed is answered at once."""
