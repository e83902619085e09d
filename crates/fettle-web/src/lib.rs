//! Pages and forms over the bench.
