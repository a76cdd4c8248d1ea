"""Art and pictures without a library: headers, PNG, the passes that Cycles writes, notes in frames."""
