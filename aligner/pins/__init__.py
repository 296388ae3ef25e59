"""What a person settled: kept in a sidecar file beside the captions, and binding for every later search."""
