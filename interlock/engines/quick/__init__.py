"""The quick engine: plain Python on packed integers. Same questions, same counts, same scenarios as the reference."""
