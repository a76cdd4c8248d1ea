"""One set of facts, many thin writers: JSON, CSV, page, plots, pictures."""
